"""A slice of candidates at every node of the sky's turn: stands, minutes, scores.

It knows of ``reading``, ``site`` and of all up to alignment. Begin with ``chunk.py``.
"""
