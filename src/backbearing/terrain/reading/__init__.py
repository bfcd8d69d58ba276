"""Elevation files in: opening, mosaics, units, products.

It knows of ``base``. Begin with ``opening.py``.
"""
