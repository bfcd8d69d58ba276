"""Skyline marks of an outing: put over its raster, and told beside it."""
