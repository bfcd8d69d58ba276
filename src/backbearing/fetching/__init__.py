"""Elevation for a place: how far it must reach, which tiles hold it, and how they are brought.

It knows of ``base``, ``terrain`` and ``outing``. Begin with ``reach.py`` and ``tile_scheme.py``;
``fetch.py`` brings tiles, ``by_hand.py`` takes those that one brought oneself, ``window.py`` cuts a
piece out, ``outing_ground.py`` writes what was found into an outing. Nothing here asks a server for
anything unless :mod:`.fetch` or :mod:`.window` is told to.
"""
