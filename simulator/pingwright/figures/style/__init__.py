"""Common parts of all figures: their style, and the options of the reader.

sheet      size, theme, units and fonts of a figure, and the caution on it
lettering  widths of texts, sizes at which they fit, lines
ticks      round ticks in the reader's units
view       window, texts and marks that the reader chooses
"""
