"""Several lenses in one night: order, minutes, walks, light.

It knows of ``stand``. Begin with ``plan_session.py``; ``schedule.py`` is the exact search.
"""
