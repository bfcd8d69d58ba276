"""``backbearing measure width``: a way each is a command."""

from __future__ import annotations

from backbearing.cli.measure_ways import ways_group

command = ways_group("width", "The subject's width across the line of sight.")
