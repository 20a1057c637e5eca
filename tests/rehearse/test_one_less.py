"""The full demonstration with one instrument taken away: valid, and every command works on it.

Some minutes of sun and of darkness are played on the keeper itself, with a
press of the button; what the board then has is pulled over a real line.
"""

import csv
import json

import pytest

from forebay import cli, lastused
from forebay.dispatch import keys
from forebay.exits import Exit
from forebay.rehearse.serving import Served
from forebay.rig import instruments, remaining
from forebay.shelf import Shelf
from forebay.shelf.columns import ROW_COLUMNS
from forebay.twin.twin import PRESSED, RELEASED, Twin
from forebay.watch.lacking import PLACES, TAGS
from keeper import settings as st
from keeper.clock import PERIOD_MS, TICKS_MASK
from keeper.journal.opening import open_journal
from keeper.link.desk import Desk
from keeper.link.identity import Identity
from keeper.link.rtu import Link
from tests.rig.less import NAMES, without

SUN_MIN, DARK_MIN = 5, 4
CHIP = b"\x01\x02\x03\x04\x05\x06\x07\x08"


def played(rig, folder):
    """Returns the twin of a rig after sun and darkness."""
    minutes = SUN_MIN + DARK_MIN + 1
    sun = [[800.0] * SUN_MIN + [0.0] * (minutes - SUN_MIN), [35.0] * minutes, [14.0] * minutes]
    settings = rig.settings()
    twin = Twin(rig.plant(), settings, sun, lambda: open_journal(
        str(folder / "board"), settings[st.index("rig_id")], st.VERSION,
        fitted=settings[st.index("fitted")]),
        [(60.0 * (SUN_MIN + 1), PRESSED), (60.0 * (SUN_MIN + 1) + 0.4, RELEASED)], 1)
    twin.run(600 * (minutes - 1))
    return twin


@pytest.fixture
def mine(tmp_path, monkeypatch):
    """Neither the keys nor the habits of whoever runs this."""
    monkeypatch.setattr(keys, "folder", lambda: tmp_path / "keys")
    monkeypatch.setattr(lastused, "path", lambda: tmp_path / "last.json")


@pytest.fixture
def run(capsys):
    """Returns stdout of a command line that must end with one of some exit codes."""

    def run(*arguments, codes=(Exit.DONE,)):
        code = cli.run(list(map(str, arguments)))
        out, err = capsys.readouterr()
        assert code in codes, (arguments, err)
        assert "Traceback" not in err
        if code == Exit.INPUT:
            assert len(err.splitlines()) == 1
        return out

    return run


@pytest.mark.parametrize("name", NAMES)
def test_with_any_one_instrument_less_every_command_works(name, tmp_path, mine, run):
    rig = without(name)
    assert remaining.absent(rig.plant()) == [name]
    twin = played(rig, tmp_path)
    assert not twin.keeper.lockouts
    shelf_path = tmp_path / "shelf.sqlite"
    with Shelf(shelf_path) as shelf:
        shelf.add_rig(rig.rig_id, rig.rig.name, rig.toml_text, rig.digest)
    served = Served(twin.keeper, twin.periods * PERIOD_MS & TICKS_MASK)
    desk = Desk(twin.keeper, None, identity=Identity(CHIP, 1, twin.settings))
    served._link = Link(twin.keeper, twin.keeper.journal, desk=desk, local=True)
    absent = gone(rig)
    with served as port:
        run("pull", "--port", port, "--shelf", shelf_path)
        watched(run, port, absent)
        ordered(run, port)
    on_the_shelf(run, shelf_path, tmp_path, absent)


def gone(rig):
    """Returns the names of channels and contacts that a rig has not."""
    fitted = instruments.mask(rig.plant())
    return {name for name, place in PLACES.items() if not fitted >> place & 1}


def watched(run, port, absent):
    live = json.loads(run("watch", "--port", port, "--once", "--json"))["live"]
    assert {name for name in PLACES if name in live and live[name] is None} == {
        name for name in absent if name in live}
    page = run("watch", "--port", port, "--once")
    assert ("absent: " in page) == bool(absent)
    for name, place in PLACES.items():
        if name in absent:
            assert TAGS[place] in page


def ordered(run, port):
    """Orders that this board can follow, and some that it must refuse in one line."""
    run("dispatch", "light", "0.3 W", "--for", "1 h", "--port", port)
    run("dispatch", "light", "0.01 W", "--for", "1 h", "--port", port, codes=(Exit.INPUT,))
    run("dispatch", "brightness", "8", "--for", "1 h", "--port", port, codes=(Exit.INPUT,))
    run("dispatch", "last", "--port", port, codes=(Exit.DONE, Exit.INPUT))
    run("dispatch", "pump", "forbid", "--port", port)


def on_the_shelf(run, shelf, folder, absent):
    checked = json.loads(run("check", "--shelf", shelf, "--json", codes=(
        Exit.DONE, Exit.INCOMPLETE)))
    assert checked["damage"] == checked["losses"] == checked["totals_that_disagree"] == []
    json.loads(run("balance", "--shelf", shelf, "--json"))
    assert run("balance", "--shelf", shelf)
    run("review", "--shelf", shelf, "--out", folder / "page.html")
    assert (folder / "page.html").read_text("utf-8").startswith("<!DOCTYPE html>")
    run("export", "--shelf", shelf, "--out", folder / "rows.csv")
    run("export", "--shelf", shelf, "--out", folder / "events.csv", "--events")
    exported(folder / "rows.csv", absent)


def exported(path, absent):
    """What is absent is empty and named on every line; what was read has a number."""
    with open(path, encoding="utf-8", newline="") as file:
        lines = list(csv.DictReader(file))
    names = [column.name for column in ROW_COLUMNS]
    # The places of `keeper.channels`: the channels in front, then the contacts.
    shown = dict(zip(PLACES, [*names[-15:-1], *names[-22:-15]], strict=True))
    assert lines
    for line in lines:
        assert set(line["absent"].split()) == {shown[name] for name in absent}
        for name, column in shown.items():
            assert (line[column] == "") == (name in absent), (column, line[column])
