"""Turns one scenario into a folder of results; and other commands for files.

pipeline    run (scenario -> echograms.h5 and report) and draw (echograms.h5 -> report)
estimate    size, memory and time of a run before it starts, and the refusal of one that will not fit
recalling  the scenario from which a picture was made
shelves     the catalogues as tables
examples    the scenarios and notebooks that come with the program, copied
"""
