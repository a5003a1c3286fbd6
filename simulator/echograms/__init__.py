"""What a recording holds, in memory and in a file.

record   Record and its parts: frozen arrays and attributes; the wall between truth and judgement
levels   packing of levels to the stored 16-bit integers and back
file     echograms.h5: writing by chunks, reading lazily
"""
