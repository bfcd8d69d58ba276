"""The skyline from a stand, and clear minutes for every cell of an area.

It knows of ``stand``. Begin with ``skyline_view.py`` and ``clearance_map.py``.
"""
