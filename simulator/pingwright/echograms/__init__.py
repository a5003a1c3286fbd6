"""What a recording holds, in memory and in a file.

record   Record and its parts: frozen arrays and attributes; the wall between truth and judgement
levels   packs levels to the stored 16-bit integers and back
memory   gathers the engine's chunks to a Record, without a file
file     echograms.h5: Writer (by chunks, whole or not at all, resumable) and read
layout   names, axes, units and limits of the file, format 2
form     lays a file out: everything but the levels; parts: groups, dimensions, variables as netCDF-4 knows them
owners   which kind of thing dominates each sample, written and read
reading  a file -> Record, lazily; stored: data sets read slice by slice; trusted: checks each item before it is used
optional parts that a file need not hold: fresh passes, what echoes beside fish
plausible  possible values of a recording's numbers and texts
heaps    damaged heaps of texts, in which the library would loop for ever
"""
