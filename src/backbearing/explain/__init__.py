"""Where every number comes from: inputs, formula and source behind each figure.

It knows of the plan's values. Begin with ``plan.py``.
"""
