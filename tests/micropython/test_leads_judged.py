"""Leads that fail, on the board's own interpreter: the keeper's code judges them as here."""

import json

from keeper import channels as ch
from tests.micropython.test_day import given

FAULTS = ("low-float-loose", "lamp-monitor-drops", "generator-monitor-drops",
          "motor-sensor-garbled", "stop-loose")
SOURCE = """
import json
from forebay.twin.effects import apply
from forebay.twin.twin import Twin
from keeper import settings as st
from keeper.journal.opening import open_journal


def seen(text, folder):
    given = json.loads(text)
    sun = ([0.0] * 1441, [14.0] * 1441, [14.0] * 1441)
    settings = given["settings"]
    twin = Twin(given["rig"], settings, sun,
                lambda: open_journal(folder, settings[st.index("rig_id")], st.VERSION))
    twin.run(20)
    for name in FAULTS:
        apply(name, twin.plant, twin.leads)
    for _ in range(SCANS):
        twin.step()
        yield twin.keeper.values[:24]
"""
ON_BOARD = SOURCE + """
with open("/given.json") as file:
    values = seen(file.read(), "/journal")


def step(n):
    for _ in range(200):
        for row in values:
            print(json.dumps(row))
            break
        else:
            return False
    return True
"""
SCANS = 1000


def test_the_board_believes_of_failing_leads_what_the_desktop_believes(run_micropython, tmp_path):
    source = {"FAULTS": repr(FAULTS), "SCANS": str(SCANS)}

    def filled(text):
        for name, value in source.items():
            text = text.replace(name, value)
        return text

    names: dict = {}
    exec(compile(filled(SOURCE), "seen", "exec"), names)
    here = [str(row) for row in names["seen"](given(), str(tmp_path / "journal"))]
    board = run_micropython(filled(ON_BOARD), files={"/given.json": given()}, steps=True,
                            timeout_s=120)
    assert board.lines == here
    assert len(here) == SCANS
    # Each of them failed in that time.
    for place in (ch.C_71L_UP, ch.C_STOP, ch.LAMP_MA, ch.GENERATOR_MA):
        told = [json.loads(row)[place] for row in here]
        assert (0 in told and 1 in told) if place in (ch.C_71L_UP, ch.C_STOP) else (
            told.count(ch.INVALID) > 5)
