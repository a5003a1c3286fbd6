"""Draws records and results as matplotlib figures; never through pyplot, never from an engine.

Every drawing function returns a Figure; its module also gives `caption` and `alt`, both written from the numbers.

compare    the main picture: echograms, seabed strips, verdicts, one ping, truth marks, cutaway, numbers
layout     where the panels of the main picture stand; panels: what stands in one of them
cells      reduction of a recording to picture cells by maximum, along depth or flattened to the bottom
cutaway, ping_curve, beams, source, coverage, absorption_reach, pulse, strength, probability, match_chart, difference
style      sheets: size, theme, units, fonts, the caution line; lines: what line figures share; words: numbers in words
save, embed, motion   files that carry their scenario: PNG, SVG, PDF; reading it back; a moving picture
"""
