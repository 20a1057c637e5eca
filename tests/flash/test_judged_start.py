"""What a flash says of the keeper that runs after it, and of a board that it leaves alone."""

import types
from typing import Any

import pytest

from forebay.flash import FlashError, deploy, firmware, job, looking, rigfiles, slots
from forebay.flash.job import Job, expected_hash
from forebay.rig import load
from keeper import health

PROGRAM = firmware.Program({slots.PROGRAM: b"new"})
NEW, OLD = expected_hash(PROGRAM), expected_hash(firmware.Program({slots.PROGRAM: b"old"}))
SETTINGS_CRC = 0x04030201


@pytest.fixture(scope="module")
def rig():
    return load()


def wanted():
    return looking.Wanted(PROGRAM, {slots.SETTINGS: b"....\x01\x02\x03\x04", slots.WIRING: b"w"},
                          {}, {})


def live(**changes):
    return {"firmware_hash": NEW, "settings_crc": SETTINGS_CRC, "safe_reason": 0,
            "reset_reason": health.ORDERED, "restarts": 0, **changes}


def done(moved=True, changes=(slots.PROGRAM,)):
    return deploy.Done(slot="b", moved_pointer=moved, changes=list(changes))


FELL_BACK = {"reset_reason": health.WATCHDOG, "restarts": 0}


@pytest.mark.parametrize(("changed", "moved", "found", "is_deployed"), [
    # Told by the program's hash, whatever happened meanwhile.
    ([slots.PROGRAM], True, {}, True),
    ([slots.PROGRAM], True, FELL_BACK, True),
    ([slots.PROGRAM], True, {"firmware_hash": OLD}, False),
    # A board that does not know its program: by its settings, or by the start.
    ([slots.PROGRAM], True, {"firmware_hash": 0}, True),
    ([slots.PROGRAM], True, {"firmware_hash": 0, **FELL_BACK}, False),
    ([slots.PROGRAM, slots.SETTINGS], True, {"firmware_hash": 0, **FELL_BACK}, True),
    ([slots.PROGRAM, slots.SETTINGS], True,
     {"firmware_hash": 0, "settings_crc": 1, **FELL_BACK}, False),
    # The program is the same in both slots: by the settings.
    ([slots.SETTINGS], True, FELL_BACK, True),
    ([slots.SETTINGS], True, {"settings_crc": 1, **FELL_BACK}, False),
    ([slots.SETTINGS], True, {"settings_crc": 1}, True),
    # Only the wiring: by the start.
    ([slots.WIRING], True, {}, True),
    ([slots.WIRING], True, FELL_BACK, False),
    ([slots.WIRING], True, {"restarts": 1}, False),
    # Nothing was switched over: what runs need only be that program.
    ([], False, FELL_BACK, True),
    ([], False, {"firmware_hash": OLD}, False),
])
def test_whether_the_slot_that_was_written_runs_is_told_by_what_changed(
        changed, moved, found, is_deployed):
    assert job._is_deployed(live(**found), wanted(), done(moved, changed)) == is_deployed


@pytest.mark.parametrize(("found", "notes"), [
    ({}, []), ({"settings_crc": 5}, ["unusable"]), ({"safe_reason": 2}, ["safe mode"]),
    ({"settings_crc": 5, "safe_reason": 1}, ["unusable", "safe mode"])])
def test_a_keeper_that_runs_otherwise_than_wished_is_noted(rig, found, notes):
    what = done()
    job._check_start(types.SimpleNamespace(), "port", live(**found), wanted(), what)
    assert len(what.notes) == len(notes)
    assert all(note in said for note, said in zip(notes, what.notes, strict=True))


def test_the_crc_of_settings_is_their_last_four_bytes_least_first(rig):
    assert rigfiles.settings_crc(wanted().slot_files) == SETTINGS_CRC
    files = rigfiles.of_slot(rig)
    assert rigfiles.settings_crc(files) == int.from_bytes(files[slots.SETTINGS][-4:], "little")


@pytest.mark.parametrize(("version", "is_noted"), [
    ("1.28.9", True), ("1.29.0", False), ("1.30.1", False), ("2.0.0", False), ("0.99.0", True)])
def test_an_older_interpreter_is_noted(version, is_noted):
    what = done()
    job._note_interpreter(types.SimpleNamespace(version=version), what)
    assert bool(what.notes) == is_noted
    assert not is_noted or f"{version}; the keeper is made for 1.29 and later" in what.notes[0]


@pytest.mark.parametrize("what", ["files", "copied", "removed", "board_files", "loader",
                                  "moved_pointer"])
def test_anything_that_was_written_or_removed_is_a_change(what):
    assert not deploy.Done(slot="a", sent_B=0, notes=["a note"], changes=["x"]).changed
    one: Any = ["/x"] if what in ("board_files", "loader") else 1
    assert deploy.Done(**{what: one}).changed


def report(**changes: Any) -> job.Report:
    return job.Report(**{
        "port": "COM3", "rig_id": 7, "interpreter": "1.29.0", "build": "B", "slot": "b",
        "firmware_version": 1, "firmware_digest": "d", "changed": True, "files": 3,
        "bytes_B": 1234, "copied": 2, "removed": 0, "board_files": [], "loader": [],
        "pulled": None, "replaces": None, "boot": 5, "safe_reason": 0, "trial_s": 0.0,
        "away_s": 12.4, "time_s": 30.0, "notes": [],
        **changes})


def test_a_report_says_what_was_written_what_was_pulled_and_how_long_nobody_watched():
    said = report(board_files=["/rig/key"], loader=["/main.py"], notes=["a note"],
                  pulled={"new_rows": 11, "new_events": 12}).lines()
    assert said[0] == "board: rig 7 at COM3, interpreter 1.29.0"
    assert "in slot b: 3 files, 1234 bytes sent, 2 files copied on the board" in said[1]
    assert said[2:] == [
        "written: /rig/key, /main.py", "pulled before: 11 rows, 12 events",
        "healthy: start 5; nobody watched the rig for 12 s, with its outputs off", "a note"]


def test_a_report_without_a_change_says_so():
    said = report(changed=False, slot="a").lines()
    assert "in slot a: nothing had to change" in said[1]
    assert len(said) == 3
    assert report().as_json()["pulled"] is None


def test_a_slot_on_trial_is_told_with_how_long_and_how_to_stay_for_it():
    said = report(trial_s=304.0).lines()
    assert said[-1].startswith("on trial for 5 min: ")
    assert "is given up with its settings and wiring" in said[-1]
    assert "--wait" in said[-1]


# Before anything is changed


@pytest.fixture
def asked(monkeypatch):
    """What leaving a program does to the board, noted; `asked.live` is what it says of itself."""
    asked = types.SimpleNamespace(live=None, calls=[])
    monkeypatch.setattr(job.running, "leave",
                        lambda port, stop, order, tell: asked.calls.append(("leave", stop)))

    def pull(port, shelf, tell):
        asked.calls.append(("pull",))
        return types.SimpleNamespace(as_json=lambda: {"new_rows": 3})

    monkeypatch.setattr(job, "pull", pull)
    return asked


def leave(rig, asked, shelf: object = None, **changes):
    order = lambda *_: 0  # noqa: E731
    plain = Job("port", rig, shelf, order, **changes)  # type: ignore[arg-type]
    return job._leave_program(plain, asked.live)


@pytest.mark.parametrize("stop", [False, True])
def test_a_journal_is_pulled_before_its_keeper_leaves(rig, asked, stop):
    asked.live = {"rig_id": rig.rig_id, "safe_reason": 0}
    assert leave(rig, asked, object(), stop=stop) == {"new_rows": 3}
    assert asked.calls == [("pull",), ("leave", stop)]


def test_unless_it_is_said_nothing_is_stopped_moved_to_another_rig_or_replaced(rig):
    plain = Job("port", rig, None, lambda *_: 0)
    assert (plain.stop, plain.other_rig, plain.renew_loader) == (False, False, False)
    assert plain.key is None
    assert not looking.Wanted(PROGRAM, {}, {}, {}).renew_loader


def test_what_is_shown_of_a_job_never_tells_its_key(rig):
    key = b"known to one board and its owner"
    shown = repr(Job("port", rig, None, lambda *_: 0, key=key))
    assert "port" in shown
    assert not [told for told in (key.decode(), key.hex()) if told in shown]


def test_without_a_shelf_nothing_is_pulled(rig, asked):
    asked.live = {"rig_id": rig.rig_id, "safe_reason": 0}
    assert leave(rig, asked) == {}
    assert asked.calls == [("leave", False)]


def test_another_rigs_board_is_left_alone_unless_told(rig, asked):
    asked.live = {"rig_id": rig.rig_id + 1, "safe_reason": 0}
    with pytest.raises(FlashError, match=f"belongs to rig {rig.rig_id + 1}.*--other-rig"):
        leave(rig, asked, object())
    assert asked.calls == []
    assert leave(rig, asked, object(), other_rig=True) == {"new_rows": 3}
    assert asked.calls == [("pull",), ("leave", False)]


@pytest.mark.parametrize(("other", "pulled"), [(0, True), (1, False)])
def test_a_board_in_safe_mode_is_flashed_and_pulled_only_if_it_names_this_rig(
        rig, asked, other, pulled):
    asked.live = {"rig_id": rig.rig_id + other, "safe_reason": 1}
    assert leave(rig, asked, object()) == ({"new_rows": 3} if pulled else {})
    assert asked.calls[-1] == ("leave", False)
    assert (("pull",) in asked.calls) == pulled
