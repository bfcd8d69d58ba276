"""The ground floor: errors, Earth and angles, files, text, what every room uses.

It knows of nothing above it. Begin with ``errors.py`` and ``geodesy.py``.
"""
