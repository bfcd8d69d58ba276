"""Measured skyline marks: readings of the true skyline that stand over the raster's."""
