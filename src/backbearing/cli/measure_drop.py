"""``backbearing measure drop``: the ground at the stand against the subject's."""

from __future__ import annotations

from backbearing.cli.measure_ways import way_command
from backbearing.workflows.visit_ways import WAYS

command = way_command("drop", "angle", WAYS["drop"]["angle"], "drop")
