"""What outlives a restart, the quiet that short delays need, and the night's plan."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper import settings as st
from keeper.operation import orders as od
from keeper.protection import elements as el
from keeper.retained_files import FILES, RetainedFiles
from tests.keeper.scripted import settings_with
from tests.keeper.ways import HOT, NIGHT, SUN, WATER
from tests.keeper.whole import Rig, lock_out, unlocked


@pytest.fixture
def rig(tmp_path):
    return unlocked(tmp_path)


def test_a_board_that_remembers_nothing_is_locked_out_hot_and_its_counter_full(tmp_path):
    rig = Rig(tmp_path)
    rig.run(50, [SUN, WATER])
    assert rig.locked == el.BOTH
    assert rig.keeper.state == mo.STANDSTILL
    core = rig.keeper.core
    assert core.protection.acting[el.number("49-MOT") - 1]
    assert core.derived.starts.milli > 100_000
    assert rig.keeper.order(od.RESET, 1, 0) == od.ONLY_AT_RIG
    rig.press()
    assert rig.locked  # the motor may still be hot
    rig.run(600)
    rig.press()
    assert not rig.locked


def test_lockout_trips_starts_and_heat_outlive_a_restart(rig):
    lock_out(rig)
    rig.run(200)
    before = rig.keeper.retained.values()
    rig.boot()
    after = rig.keeper.retained.values()
    assert after[1:3] == before[1:3] == [el.BOTH, el.number("26-MOT")]
    assert after[-len(el.ELEMENTS):] == before[-len(el.ELEMENTS):]
    rig.stays(mo.STANDSTILL, 600, [SUN, WATER])


def test_a_trip_that_did_not_lock_out_counts_on_after_a_restart(rig):
    for expected in (0, 0, el.BOTH):
        rig.until(mo.PUMPING, [SUN, WATER, (ch.MOTOR_MDEGC, 20000)])
        rig.until(mo.STANDSTILL, [HOT])
        rig.run(150)
        rig.boot()
        assert rig.locked == expected


def newest_of_two(rig):
    """Returns (newest file, older one): the newest has a lockout, the older one knows of none."""
    for allowed in (0, 1):
        rig.keeper.order(od.PUMP_ALLOWED, allowed, 60)
        rig.run(20)
    rig.keeper.core.sequence.lockout.sides = el.BOTH
    rig.run(20)
    place = rig.keeper.retained.memory.place
    newest, older = (rig.folder / "rig" / FILES[at] for at in (1 - place, place))
    assert newest.stat().st_size == older.stat().st_size
    return newest, older


def test_a_cut_while_a_file_is_written_costs_no_more_than_the_last_change(rig):
    newest, older = newest_of_two(rig)
    written = rig.keeper.retained.memory.sequence
    newest.write_bytes(b"")  # of a write that was cut nothing is there
    rig.boot()
    assert rig.keeper.retained.memory.sequence == written - 1
    assert rig.locked == 0  # as the older file says
    rig.keeper.core.sequence.lockout.sides = el.BOTH
    rig.run(20)
    rig.boot()
    assert rig.locked == el.BOTH


@pytest.mark.parametrize("harm", ["cut", "flip", "both empty"])
def test_a_damaged_memory_is_no_memory_though_an_older_file_is_there(rig, harm):
    newest, older = newest_of_two(rig)
    data = bytearray(newest.read_bytes())
    data[20] ^= 1
    newest.write_bytes(data if harm == "flip" else data[:30])
    if harm == "both empty":
        for file in (newest, older):
            file.write_bytes(b"")
    rig.boot()
    assert rig.locked == el.BOTH
    assert rig.keeper.core.protection.first == 0
    assert rig.keeper.core.derived.starts.milli == rig.keeper.core.derived.starts.full


def test_what_bars_the_pump_outlives_a_restart(rig):
    rig.keeper.order(od.PUMP_ALLOWED, 0, 60)
    rig.run(100)
    rig.boot()
    rig.stays(mo.STANDSTILL, 900, [SUN, WATER])
    rig.keeper.order(od.PUMP_ALLOWED, 1, 0)
    rig.keeper.order(od.MAINTAIN, 1, 0)
    rig.run(100)
    rig.boot()
    rig.stays(mo.MAINTENANCE, 900, [SUN, WATER])


def test_maintenance_for_the_laptop_s_tools_ends_with_them(rig):
    rig.keeper.order(od.MAINTAIN, 1, 1)
    rig.run(100)
    rig.boot()
    rig.until(mo.TRIAL, [SUN, WATER])


def test_starts_are_counted_on_through_quick_restarts(tmp_path):
    rig = Rig(tmp_path, [("starts_per_hour", 3), ("starts_most_milli", 2500),
                         ("starts_again_milli", 2000)])
    rig.run(5000)
    rig.keeper.core.derived.starts.milli = 0
    rig.press()
    for _ in range(2):
        rig.until(mo.PUMPING, [SUN, WATER])
        rig.run(60)
        rig.boot()
    rig.until(mo.PUMPING, [SUN, WATER])
    rig.run(60)
    rig.boot()
    rig.stays(mo.STANDSTILL, 300, [SUN, WATER])
    assert rig.keeper.core.protection.acting[el.number("66-PMP") - 1]


def test_a_hot_motor_is_hot_after_a_restart_until_it_is_below_its_reset(rig):
    rig.run(50, [(ch.MOTOR_MDEGC, 60000)])
    rig.run(50, [(ch.MOTOR_MDEGC, 54000)])
    rig.boot()
    rig.stays(mo.STANDSTILL, 300, [SUN, WATER, (ch.MOTOR_MDEGC, 54000)])
    assert sum(rig.keeper.core.sequence.lockout.trips) == 1  # the restart counts none
    rig.run(20, [(ch.MOTOR_MDEGC, 44000)])
    rig.until(mo.TRIAL)


def test_a_curve_learned_on_another_rig_is_not_used(rig):
    rig.keeper.night.curve[3] += 1000
    rig.run(7000)
    rig.boot()
    assert rig.keeper.night.curve[3] == settings_with()[st.index("specific_4_mJ_L")] + 1000
    rig.numbers[st.index("specific_1_mJ_L")] += 1
    rig.boot()
    assert rig.keeper.night.curve[3] == settings_with()[st.index("specific_4_mJ_L")]


def test_files_take_turns_and_the_newest_counts(tmp_path):
    memory = RetainedFiles(str(tmp_path / "rig"))
    for value in range(5):
        assert memory.save([value, 7])
        assert RetainedFiles(str(tmp_path / "rig")).load() == [value, 7]


def test_a_memory_that_cannot_be_written_stops_nothing(tmp_path):
    (tmp_path / "rig").write_text("a file where the folder should be")
    rig = Rig(tmp_path)
    rig.run(400)
    rig.press()
    rig.until(mo.PUMPING, [SUN, WATER])
    assert rig.keeper.retained.failed() > 0


def test_flash_is_left_alone_while_a_short_delay_runs(rig):
    rig.until(mo.PUMPING, [SUN, WATER])
    rig.run(200)
    assert not rig.keeper.busy
    rig.run(1, [(ch.C_71H_UP, 0)])
    assert rig.keeper.busy
    rig.run(20)
    assert not rig.keeper.busy
    rig.until(mo.RUNNING, [(ch.C_71H_UP, 1), NIGHT])
    rig.run(100)
    rig.until(mo.CLOSING, [(ch.GENERATOR_MV, 15000)])
    assert rig.keeper.busy


# The night's budget in the whole keeper

def planned(rig):
    slots = list(rig.keeper.events.slots)
    return [tuple(slot[:3]) for slot in slots if slot[0] in (ev.LIGHT_PLANNED, ev.LIGHT_LASTS)]


def dusk(tmp_path, monkeypatch, level_mm, **changes):
    rig = Rig(tmp_path, tuple(changes.items()), memory=False)
    told = []
    # The events stay where they can be seen.
    monkeypatch.setattr(rig.keeper.journal, "slack", lambda *_: None)
    rig.run(30, [(ch.LEVEL_MM, level_mm)])
    rig.until(mo.RUNNING, [NIGHT])
    rig.run(30)
    told += planned(rig)
    return rig, told


def test_a_night_that_the_water_allows_is_lit_as_wanted(tmp_path, monkeypatch):
    rig, told = dusk(tmp_path, monkeypatch, 950, longest_night_min=300)
    assert rig.keeper.setpoint_mW == 600
    assert told[0] == (ev.LIGHT_PLANNED, 1, 600)


def test_a_longer_night_is_dimmed_so_that_it_lasts(tmp_path, monkeypatch):
    rig, told = dusk(tmp_path, monkeypatch, 950, longest_night_min=480)
    assert 300 <= rig.keeper.setpoint_mW < 600
    assert told[0][:2] == (ev.LIGHT_PLANNED, 1)
    hours = rig.keeper.night.lasts_min(rig.keeper.setpoint_mW, 900_000)
    assert hours >= 480


def test_a_night_that_nothing_lasts_keeps_the_wanted_light_and_offers_hours(tmp_path, monkeypatch):
    rig, told = dusk(tmp_path, monkeypatch, 950, longest_night_min=900)
    assert rig.keeper.setpoint_mW == 600
    assert told[0] == (ev.LIGHT_PLANNED, 0, 600)
    assert told[1][:2] == (ev.LIGHT_LASTS, 0)
    assert told[2][:2] == (ev.LIGHT_LASTS, 1)
    assert told[1][2] < told[2][2]


def test_without_a_level_there_is_no_plan(tmp_path, monkeypatch):
    rig, told = dusk(tmp_path, monkeypatch, 20000, longest_night_min=480)
    assert rig.keeper.setpoint_mW == 600
    assert told == [(ev.LIGHT_PLANNED, 2, 600)]
