"""End to end: small scenes, simulated on the spot, each read as a user would and held against an independent number.

scene     the scene that all start from, and Check
targets   single echoes: strength, beam pattern, time of travel, resolution
many      echoes of many: a layer, the seabed
chances   noise, its statistics, false alarms, detection in noise and over a pass, the dead zone
"""
