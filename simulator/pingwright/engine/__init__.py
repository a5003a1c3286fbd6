"""World and elements in, echoes out.

settings   sampling, window, intervals and accuracy of one run
nodes      band nodes, interpolation basis and tap tables: how a smooth spectrum becomes 16 taps
channels   which element receives which, and into how many pieces a band is cut
tables     beam, loss and strength tabulated at the nodes
look       how finely an element samples the seabed, and where its beam needs full detail
kernels/   compiled loops: spreading, hiding, noise and packing; their reference versions in plain numpy
geometry   poses, tiles of the seabed, and which of them a ping needs
scattering_layers  unresolved scatterers in layers, bubbles below the surface among them
receiver   from spread grid to matched filter output
scratch    memory that a thread uses again
shadows    what structures hide of themselves, kept by place
remembered results that take long and are the same for every run of a face
preparing  all that is computed once in a run
jobs       one part of the track: all echoes received there, spread, filtered, packed
simulate   threads, jobs, chunks in order
still      superposition: echoes of a world that does not change, and things added to them
things     the added things as each ping receives them; short: the few samples with their echoes
owners     which kind of thing dominates each sample: each kind simulated alone
"""
