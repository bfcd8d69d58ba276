"""One stand: how far and on which bearing the tripod stands, and what spoils it.

Begin with ``solve.py``, free of cameras; ``scene.py`` joins it to camera, sky and terrain, and
``stands.py`` answers for the lenses of a kit at one moment.
"""
