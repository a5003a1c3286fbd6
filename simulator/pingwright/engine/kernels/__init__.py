"""Compiled loops over flat arrays and tables: arithmetic only, no physics and no random draw.

spread     adds the echoes of scatterers to a grid
cells      adds the echoes of unresolved scatterers, one a sample, to a grid
beams      reads the beam table
sight      positions of scatterers as seen from a pose, and where to read the tables
thin       which part of each tile of the seabed an element needs
hiding     things in front hide things behind; schools absorb
noise      counter-based noise, and the packing of levels
scalars    sine, cosine and logarithm of single floats
vectors    sixteen numbers as one value: the one file that emits vector instructions
ranged     mean echoes of patches by range, for closed forms
over       things added to stored echoes, many pings at once
limits     bounds that other rooms report
plain      spreading and thinning in plain numpy: the reference versions that judge the compiled ones
compiled   compiles kernels and stores the machine code between runs
"""
