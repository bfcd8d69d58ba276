"""What is known of a place beforehand: ways to it, towns about it, its sky's brightness.

It knows of ``base`` and terrain. Begin with ``site.py``.
"""
