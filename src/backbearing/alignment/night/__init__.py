"""One night and many: arcs, limits, the minute of each lens, crossings, seasons.

It knows of ``stand`` and ``view``. Begin with ``prepared_night.py``.
"""
