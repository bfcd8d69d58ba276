"""The whole run: processes, checkpoints, one machine or a cluster.

It knows of ``ranking``. Begin with ``run.py``.
"""
