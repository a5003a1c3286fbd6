"""One scenario to a folder of results, and what else the command line asks of files.

pipeline    run (scenario -> echograms.h5 and report) and draw (echograms.h5 -> report)
estimate    size, memory and time of a run before it starts, and the refusal of one that will not fit
recalling   the scenario a picture was made from
shelves     the catalogues as tables
examples    the scenarios and notebooks that come with the program, copied
"""
