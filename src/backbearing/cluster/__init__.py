"""Work shared out in parcels: over processes or machines, kept as it comes home.

It knows of ``base`` alone and of no sky or ground: what a parcel holds and what is done with it
is the asker's own. ``kept.py`` holds the folder of finished parcels, ``dask_cluster.py`` the
workers of other machines, ``opened.py`` what a worker opens once.
"""
