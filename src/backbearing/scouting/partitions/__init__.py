"""Candidates and rankings in parts on disk, so that no machine holds a country whole.

It knows of ``reading`` and ``ranking``. Begin with ``candidate_parts.py``.
"""
