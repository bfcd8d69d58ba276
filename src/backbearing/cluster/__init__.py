"""Work shared out in parcels: over processes or machines, kept as it comes home.

It knows of ``base`` alone and of no sky or ground: what a parcel holds and what is done with it
is the asker's own. Begin with ``shared_work.py``. ``kept.py`` holds the folder of finished
parcels, ``question.py`` says what they answer; ``dask_cluster.py`` has the workers of other
machines, ``opened.py`` what a worker opens once.
"""
