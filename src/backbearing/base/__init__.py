"""The ground floor: errors, Earth and angles, files, text, what every room uses.

It knows of nothing above it. Begin with ``errors.py``, ``constants.py`` and ``geodesy.py``; angles,
planes about a point, stretches of time and work in parallel have a module each.
"""
