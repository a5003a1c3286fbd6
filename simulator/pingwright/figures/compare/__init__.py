"""The main picture: fish by height over the ground in rows, elements in columns, and what each of them shows.

rows       which parts of the water are enlarged, and against what their heights are measured
comb       where marks stand: above the frames, hairlines through clear water only
sheet      a page laid out from the top in millimetres, drawn when its height is known
scales     round ticks that never touch, scale of levels
parts      one panel each: an enlarged row, the whole water, an interval
frame      headline, names, legend, caution round the pictures
picture    the comparison; captions: its caption and alternative text
"""
