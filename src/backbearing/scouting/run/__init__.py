"""The whole run: workers, checkpoints, one machine or a cluster.

It knows of ``ranking``. Begin with ``run.py``.
"""
