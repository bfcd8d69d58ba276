"""How a skyline is found: rays, the march over cells, one eye, many eyes, whole rasters.

It knows of ``reading`` and of the grid. Begin with ``rays.py`` and ``march.py``; the compiled code
stands in the modules named ``_..._kernels``.
"""
