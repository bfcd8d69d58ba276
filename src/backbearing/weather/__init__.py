"""Cloud from a forecast that the user brings: read, placed along a line of sight, and told."""
