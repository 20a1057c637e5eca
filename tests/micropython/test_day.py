"""A day of reduced length on the board's own interpreter: plant, keeper and journal."""

import json

from forebay.rig import load
from tests.journal import reader

# Half an hour of sun, then dark; the tank is nearly full at the start, so that
# the float stops the pump, the light burns, and the lamps' lead opens at the end.
LIT_MINUTES, PERIODS = 16, 21000
FAULTS = [(1900.0, "load-lost")]
CHANGES = {"upper.start_volume_m3": 0.945}

# Board and desktop run this very text.
SOURCE = """
import json
from forebay.twin.twin import Twin
from keeper import settings as st
from keeper.journal.opening import open_journal


def begin(text, folder):
    given = json.loads(text)
    minutes = 1441
    lit = given["lit_minutes"]
    poa = [800.0] * lit + [0.0] * (minutes - lit)
    sun = (poa, [30.0] * minutes, [14.0] * minutes)
    settings = given["settings"]
    faults = [tuple(fault) for fault in given["faults"]]
    return Twin(given["rig"], settings, sun,
                lambda: open_journal(folder, settings[st.index("rig_id")], st.VERSION), faults)
"""
ON_BOARD = SOURCE + """
with open("/given.json") as file:
    twin = begin(file.read(), "/journal")


def step(n):
    twin.run(500)
    return twin.periods < PERIODS
"""


def given():
    rig = load()
    return json.dumps({"rig": {**rig.plant(), **CHANGES}, "settings": rig.settings(),
                       "faults": FAULTS, "lit_minutes": LIT_MINUTES})


def test_the_board_lives_the_day_that_the_desktop_lives(run_micropython, tmp_path):
    board = run_micropython(
        ON_BOARD.replace("PERIODS", str(PERIODS)), files={"/given.json": given()},
        fetch=["/journal"], steps=True, timeout_s=300)
    names: dict = {}
    exec(compile(SOURCE, "day", "exec"), names)
    twin = names["begin"](given(), str(tmp_path / "journal"))
    twin.run(PERIODS)
    files = {path.rsplit("/", 1)[1]: data for path, data in board.files.items()}
    on_board = reader.read_files(files)
    here = reader.read_files(reader.folder_files(tmp_path / "journal"))
    assert on_board.events == here.events
    assert on_board.rows == here.rows
    codes = {event[3] for event in here.events}
    assert {1, 2, 3, 4} <= codes  # boot, changes of state, elements acting and letting go
    acted = [event[4] for event in here.events if event[3] == 3]
    assert len(set(acted)) >= 2  # tank full, and the generator's over-voltage
