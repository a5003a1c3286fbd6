"""World and elements in, echoes out.

settings   sampling, window, intervals and accuracy of one run
nodes      band nodes, interpolation basis and tap tables: how a smooth spectrum becomes 16 taps
channels   who hears whom, and in how many pieces a band is carried
tables     beam, loss and strength tabulated at the nodes
look       how finely an element looks at the seabed, and where its beam is worth full detail
kernels/   compiled loops: spreading, hiding, noise and packing; their reference versions in plain numpy
geometry   poses, tiles of the seabed, and which of them a ping needs
scattering_layers  unresolved scatterers in layers, bubbles below the surface among them
receiver   from spread grid to matched filter output
scratch    memory that a thread uses again
remembered what is dear to make and the same for every run of a face
preparing  all that is worked out once a run
jobs       one stretch of track: everything it hears, spread, filtered, packed
simulate   threads, jobs, chunks in order
still      superposition: echoes of a world that stays, and what is laid over them
things     what is laid over, as each ping meets it; short: the few samples it falls on
owners     which kind of thing dominates each sample: each kind simulated alone
"""
