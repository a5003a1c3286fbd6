"""The main picture: fish by height above the ground in rows, elements in columns, and the fish that each shows.

rows       which parts of the water are enlarged, and where their heights start
comb       places of marks: above the frames, hairlines only through clear water
sheet      a page, laid out from the top in millimetres and drawn when its height is known
scales     round ticks that never touch, scale of levels
parts      one panel each: an enlarged row, the whole water, an interval
brackets   which parts of the whole water are enlarged
frame      headline, names, legend, caution around the pictures
picture    the comparison; captions: its caption and alternative text
"""
