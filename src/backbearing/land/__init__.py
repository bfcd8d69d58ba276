"""Places, land and ways on the ground: where one may go, how far on foot, how dark its sky.

It knows of ``base`` and of the values of ``plan``. Begin with ``places.py`` (the user's file) and
``walks.py``.
"""
