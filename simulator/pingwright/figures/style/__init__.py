"""What all figures share: how they look, what the reader asks of them.

sheet      size, theme, units and fonts of a figure, and the caution it carries
lettering  widths of texts, sizes at which they fit, lines
ticks      round ticks in the reader's units
view       window, words and marks the reader asks for
"""
