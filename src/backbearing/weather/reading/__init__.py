"""Forecast files in: NetCDF, GRIB, and a plain table of our own."""
