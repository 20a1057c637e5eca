"""Options that commands share, on a command of the test's own."""

import click
import pytest
from click.testing import CliRunner

from forebay.cli.options import units_option
from forebay.showing import shown


@click.command()
@units_option
def lift(system):
    click.echo(shown(9.2, "length", system))


@pytest.mark.parametrize(("asked", "text"), [
    ([], "9.2 m\n"), (["--units", "metric"], "9.2 m\n"), (["--units", "us"], "30.2 ft\n"),
])
def test_units_are_metric_unless_others_are_asked_for(asked, text):
    assert CliRunner().invoke(lift, asked).output == text


def test_units_do_not_hang_on_the_environment(monkeypatch):
    for name in ("UNITS", "FOREBAY_UNITS", "LIFT_UNITS"):
        monkeypatch.setenv(name, "us")
    assert CliRunner().invoke(lift, []).output == "9.2 m\n"


def test_other_units_are_refused_with_those_there_are():
    result = CliRunner().invoke(lift, ["--units", "imperial"])
    assert result.exit_code == 2
    assert "'metric', 'us'" in result.output
