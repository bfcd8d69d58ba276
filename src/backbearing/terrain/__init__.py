"""The ground: elevation rasters, the skyline from a point, slopes and drops.

Heights live at pixel centres. Pixel ``(row, col)`` has its centre at
``transform * (col + 0.5, row + 0.5)`` and the surface between four neighbouring
centres is bilinear; beyond the outermost centres nothing is known.

It knows of ``base`` only; not of the sky, not of cameras. Begin with ``elevation.py``; files come
in by ``reading/``, skylines are found in ``skyline/``.
"""

from __future__ import annotations

from backbearing.base.lazy import lazy_names

__getattr__, __dir__ = lazy_names(__name__, __file__)
