"""Whole jobs: compute once, hand the values to every writer.

It knows of everything but the command line. Begin with ``write_all.py``.
"""
