"""Charts: curves, bars and maps; the colour of an element shows its band, the dashes show its beam.

beams, pulse, source, strength, absorption_reach, coverage, ping_curve, difference   of one recording
reach, arch, duel   depths for fish and bottom; one fish under each element; chirp against plain ping
overview      all claims in one picture
probability   curves, maps and least heights of claims; match_chart: the ranking of a day's fishing
evidence      formulas as lines, values from elsewhere as points
sweep_chart   numbers of a sweep over one or two varied keys
lines         their common parts
"""
