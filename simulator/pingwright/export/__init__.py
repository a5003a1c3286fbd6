"""A recording in the open convention SONAR-netCDF4 2.0 (International Council for the Exploration of the Sea).

convention  its groups, types and variables as tables, and a writer for them
platform    the boat: time, latitude and longitude, motion
sonar       one beam group for each element: calibrated Sv and TS
timeless    removes the time of writing from the file
write       export(file of echograms, target)
"""
