"""``backbearing measure place``: a way each is a command."""

from __future__ import annotations

from backbearing.cli.measure_ways import ways_group

command = ways_group(
    "place", "Where the subject stands: a receiver's track, bearings, or from a stand."
)
