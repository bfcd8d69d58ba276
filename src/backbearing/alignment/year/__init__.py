"""Many nights, many subjects: each lens's good minutes of every night, and which nights to take.

It knows of ``stand`` and ``night``. Begin with ``plan_year.py``.
"""
