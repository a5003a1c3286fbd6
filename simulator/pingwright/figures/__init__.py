"""Draws records and results as matplotlib figures; never through pyplot, never from an engine.

Every drawing function returns a Figure; its module also gives `caption` and `alt`, both written from the numbers.

compare    the main picture: fish by height in rows, elements in columns
echogram   a plain echogram; panels: the contents of one panel
cells      reduction of a recording to picture cells by maximum, along depth or flattened to the bottom
cutaway    the water in cross-section, to scale
charts     curves, bars and maps
style      sheets: size, theme, units, fonts, the caution line
save, embed, motion   files that hold their scenario: PNG, SVG, PDF; reading it again; a moving picture
"""
