"""World and elements in, echoes out.

settings   sampling, window, intervals and accuracy of one run
nodes      band nodes, interpolation basis and tap tables: how a smooth spectrum becomes 16 taps
channels   who hears whom, and in how many pieces a band is carried
tables     beam, loss and strength tabulated at the nodes
vectors    sixteen float lanes as one value
kernels    the spreading kernel: arithmetic only; twins: the same in plain numpy
hiding     what stands in front hides what is behind; veils of fish take their share
geometry   poses, and which stretch of the world a ping can hear
noise      counter-based noise, and kernels that pack levels
receiver   from spread grid to matched filter output
scratch    memory that a thread uses again
preparing  all that is worked out once a run
jobs       one stretch of track: everything it hears, spread, filtered, packed
simulate   threads, jobs, chunks in order
"""
