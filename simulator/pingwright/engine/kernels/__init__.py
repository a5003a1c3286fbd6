"""Compiled loops over flat arrays and tables: arithmetic only, no physics and no random draw.

spread     adds the echoes of scatterers to a grid
sight      where scatterers lie as seen from a pose, and where to read the tables
hiding     what stands in front hides what is behind; schools take their share
noise      counter-based noise, and the packing of levels
scalars    sine, cosine and logarithm of single floats
vectors    sixteen float lanes as one value: the one file that emits vector instructions
over       things laid over kept echoes, many pings at once
limits     bounds that others tell of
plain      the same spreading in plain numpy: the reference version that judges the compiled one
compiled   compiles kernels and keeps the machine code between runs
"""
