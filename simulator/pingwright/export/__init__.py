"""A recording in the open convention SONAR-netCDF4 2.0 (International Council for the Exploration of the Sea).

convention  its groups, types and variables as tables, and a writer for them
calibration what the band does to a level, so that calibrated values are those of the target
platform    where the boat is: time, latitude and longitude, motion
sonar       one beam group an element: calibrated Sv and TS
timeless    takes the time of writing out of the file
write       export(file of echograms, target)
"""
