"""Which sites ``nights`` is asked about, and how the work is shared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import click

from backbearing.cli.sharing import SharingAsked

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class SitesAsked(SharingAsked):
    """A file of sites, where their table goes, and how the work is shared."""

    sites: Path | None
    layer: str | None
    table: Path | None

    def check(self) -> None:
        """Refuse what is for sites alone when there are none.

        Raises
        ------
        UsageError
            Naming the option that is missing.
        """
        if self.sites is None and (self.table or self.layer or self.sharing):
            raise click.UsageError(
                "--csv, --layer, --processes, --scheduler and --keep are for many sites: add "
                "--sites FILE."
            )
