"""What all pictures share: marks, colours, relief, contours, letters, the base map.

It knows of ``base`` and of the plan's values. Begin with ``marks.py``.
"""
