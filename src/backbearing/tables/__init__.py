"""Tables and features that people keep places in: read, their numbers and names checked."""
