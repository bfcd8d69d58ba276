"""``measure``: the group lists its commands and loads none of them for help."""

from __future__ import annotations

from importlib import import_module

import click
import pytest
from click.testing import CliRunner

from backbearing.cli import group
from backbearing.cli.measure import MEASURES


def test_help_lists_what_can_be_measured() -> None:
    done = CliRunner().invoke(group, ["measure", "--help"])
    assert done.exit_code == 0, done.output
    for name, line in MEASURES.items():
        assert name in done.output
        assert line.split()[0] in done.output


@pytest.mark.parametrize("name", MEASURES)
def test_each_measure_is_a_command_of_its_name(name: str) -> None:
    command = import_module(f"backbearing.cli.measure_{name}").command
    assert isinstance(command, click.Command)
    assert command.name == name


def test_what_cannot_be_measured_is_a_usage_error() -> None:
    done = CliRunner().invoke(group, ["measure", "weight"])
    assert done.exit_code == 2
    assert "No such command 'weight'" in done.output
