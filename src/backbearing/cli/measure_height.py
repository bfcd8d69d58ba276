"""``backbearing measure height``: a way each is a command."""

from __future__ import annotations

from backbearing.cli.measure_ways import ways_group

command = ways_group(
    "height", "The subject's height, by clinometer, laser, pole, picture or shadow."
)
