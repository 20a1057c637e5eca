"""A lockout from the command line: shown, asked about, reset or not."""

import click
import pytest

from forebay import cli
from forebay.exits import Exit
from keeper.channels import C_71HH_UP, MOTOR_MDEGC


def dispatch(capsys, *arguments):
    """Returns (exit code, stdout, stderr)."""
    code = cli.run(["dispatch", *map(str, arguments)])
    return code, *capsys.readouterr()


def lock_out(rig, place, value, scans=400):
    rig.board.inputs[place] = value
    rig.run(scans)


@pytest.fixture
def locked(rig):
    """Locked out by a hot motor, whose cause is gone."""
    sequence = rig.keeper.core.sequence
    for _ in range(5):
        lock_out(rig, MOTOR_MDEGC, 60000, 30)
        lock_out(rig, MOTOR_MDEGC, 20000, 200)
    assert sequence.lockout.sides
    assert not rig.keeper.core.protection.cause_present()
    return rig


def test_a_lockout_is_shown_and_reset_once_somebody_has_seen_it(locked, line, capsys):
    code, out, err = dispatch(capsys, "reset", "--seen-on-site", "--port", line.port)
    assert code == Exit.DONE
    assert "locked out by 26-MOT: Motor hot" in err
    assert out == "done: the lockout is reset\n"
    assert not locked.keeper.core.sequence.lockout.sides


def test_without_a_terminal_nobody_is_asked_and_nothing_is_reset(locked, line, capsys):
    code, _, err = dispatch(capsys, "reset", "--port", line.port)
    assert code == Exit.INPUT
    assert "say --seen-on-site" in err
    assert locked.keeper.core.sequence.lockout.sides


@pytest.mark.parametrize(("answer", "left"), [("y\n", 0), ("n\n", 3), ("\n", 3)])
def test_at_a_terminal_it_is_asked_whether_somebody_has_seen_it(locked, line, monkeypatch,
                                                                answer, left):
    from forebay.cli import dispatch as room

    monkeypatch.setattr(room.sys, "stdin", type("Terminal", (), {"isatty": lambda self: True})())
    asked = []

    def confirm(text, **_):
        asked.append(text)
        if answer != "y\n":
            raise click.Abort

    monkeypatch.setattr(room.click, "confirm", confirm)
    code = cli.run(["dispatch", "reset", "--port", line.port])
    assert asked == ["Has somebody seen the rig, and mended the cause"]
    assert code == (Exit.DONE if answer == "y\n" else Exit.INTERRUPTED)
    assert locked.keeper.core.sequence.lockout.sides == left


def test_a_cause_that_is_still_there_is_told_and_nothing_is_sent(locked, line, capsys):
    lock_out(locked, MOTOR_MDEGC, 60000, 30)
    code, _, err = dispatch(capsys, "reset", "--seen-on-site", "--port", line.port)
    assert code == Exit.INPUT
    assert "cause is still present" in err
    assert locked.desk.passed == 0


def test_over_full_is_reset_only_at_the_rig(rig, line, capsys):
    for _ in range(5):
        lock_out(rig, C_71HH_UP, 0, 30)
        lock_out(rig, C_71HH_UP, 1, 200)
    assert rig.keeper.core.sequence.lockout.sides
    code, _, err = dispatch(capsys, "reset", "--seen-on-site", "--port", line.port)
    assert code == Exit.INPUT
    assert "only at the rig" in err
    assert rig.desk.passed == 0
