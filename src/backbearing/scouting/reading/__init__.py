"""Candidates from files: seven formats, cleaned, deduplicated, rejected by name.

It knows of ``base`` only. Begin with ``candidates.py``.
"""
