"""``backbearing ridge --area``: what it writes, and what it refuses before it works."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from click.testing import CliRunner

from backbearing.base.errors import WriteRefusedError
from backbearing.cli.ridge import command

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def sample(tmp_path: Path, sample_text: str) -> str:
    path = tmp_path / "outing.toml"
    path.write_text(sample_text, encoding="utf-8")
    return str(path)


@pytest.mark.slow
def test_numbers_and_page_of_one_area(sample: str, tmp_path: Path) -> None:
    tif, page = tmp_path / "area.tif", tmp_path / "area.html"
    done = CliRunner().invoke(
        command,
        [sample, "--area", str(tif), "--area", str(page), "--within", "1", "--json"],
        standalone_mode=False,
        catch_exceptions=False,
    )
    said = json.loads(done.stdout)
    assert said["files"] == [str(tif), str(page)]
    assert said["trial"]["cells"] > 20
    assert len(said["bearings_deg"]) < 60
    with rasterio.open(tif) as raster:
        assert raster.count == 4
        assert max(raster.shape) < 40
    assert "Night: first clear minute" in page.read_text(encoding="utf-8")


@pytest.mark.slow
def test_a_shared_area_is_written_and_taken_up(
    sample: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("backbearing.alignment.ridge.area_parts.LEAST_SIDE", 30)
    keep = ["--keep", str(tmp_path / "done")]
    written = []
    for name, more in (("one", []), ("shared", ["--processes", "2", *keep]), ("again", keep)):
        file = tmp_path / f"{name}.tif"
        given = [sample, "--area", str(file), "--within", "3", *more]
        CliRunner().invoke(command, given, standalone_mode=False, catch_exceptions=False)
        with rasterio.open(file) as raster:
            written.append(raster.read())
    np.testing.assert_array_equal(written[0], written[1])
    np.testing.assert_array_equal(written[0], written[2])
    assert len(list((tmp_path / "done").glob("ridge-*.npz"))) > 4


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--within", "3"], "add --area"),
        (["--processes", "2"], "add --area"),
        (["--keep", "done"], "add --area"),
        (["--area", "a.tif", "--lens", "14"], "leave out"),
        (["--area", "a.tif", "--red"], "leave out"),
    ],
)
def test_switches_that_do_not_go_together(sample: str, given: list[str], said: str) -> None:
    done = CliRunner().invoke(command, [sample, *given])
    assert done.exit_code == 2
    assert said in done.output


@pytest.mark.parametrize(
    ("names", "said"), [(["a.png"], "as .tif"), (["a.tif", "a.tif"], "asked for twice")]
)
def test_files_that_cannot_be_written(
    sample: str, tmp_path: Path, names: list[str], said: str
) -> None:
    given = [word for name in names for word in ("--area", str(tmp_path / name))]
    with pytest.raises(WriteRefusedError, match=said):
        CliRunner().invoke(command, [sample, *given], standalone_mode=False, catch_exceptions=False)
    assert [path.name for path in tmp_path.iterdir()] == ["outing.toml"]
