"""When a keeper saves what must survive a restart: soon what protects, seldom what creeps."""

import pytest

from keeper.operation.sequence import TO_MARK
from keeper.protection import elements as el
from keeper.protection.judging import ROWS
from tests.keeper.keeping import MIN, place, saved, start

__all__ = ["start"]

LOOK_DS, FORCED_DS, TEN_MINUTES_DS = 10, 50, 6000
HEAT_STEP = 50000               # a twentieth of the heat that trips


def pass_time(keeper, ds):
    """Lets time pass, with the slack work of each scan."""
    for _ in range(ds):
        keeper.core.uptime_ds += 1
        keeper.slack(0)
        keeper.slack(0)


def times(keeper):
    return [uptime_ds for uptime_ds, _ in keeper.retained.memory.saved]


def trip(keeper):
    keeper.core.sequence.lockout.trips[4] += 1


def started(keeper):
    keeper.core.sequence.start_mark = TO_MARK


URGENT = {
    "lockout": lambda keeper: setattr(keeper.core.sequence.lockout, "sides", el.BOTH),
    "its element": lambda keeper: setattr(keeper.core.sequence.lockout, "element", 3),
    "the first trip": lambda keeper: setattr(keeper.core.protection, "first", 3),
    "a start": started,
    "maintenance": lambda keeper: setattr(keeper.core.sequence, "maintenance", True),
    "no pumping": lambda keeper: setattr(keeper.core.sequence, "forbidden_periods", 5 * MIN),
    "draining": lambda keeper: setattr(keeper.core.sequence, "drain_periods", 5 * MIN),
    "no pumping for a moment": lambda keeper: setattr(
        keeper.core.sequence, "forbidden_periods", 1),
    "draining for a moment": lambda keeper: setattr(keeper.core.sequence, "drain_periods", 1),
    "a trip": trip,
    "a trip of the last element": lambda keeper: keeper.core.sequence.lockout.trips.__setitem__(
        ROWS - 1, 1),
}


@pytest.mark.parametrize("name", URGENT)
def test_what_protects_is_saved_within_a_second_of_its_change(start, name):
    keeper = start(saved())
    pass_time(keeper, 25)
    assert times(keeper) == []
    URGENT[name](keeper)
    pass_time(keeper, LOOK_DS)
    assert len(times(keeper)) == 1
    assert keeper.retained.memory.saved[0][1] == keeper.retained.values()
    pass_time(keeper, 5 * LOOK_DS)
    assert len(times(keeper)) == 1  # once


@pytest.mark.parametrize("name", ["lockout", "no pumping", "draining", "maintenance"])
def test_that_it_ended_is_saved_as_well(start, name):
    keeper = start(saved(lockout=el.BOTH, forbidden_min=5, drain_min=5, maintenance=1))
    sequence = keeper.core.sequence
    pass_time(keeper, LOOK_DS)
    if name == "lockout":
        sequence.lockout.sides = 0
    else:
        attribute = {"no pumping": "forbidden_periods", "draining": "drain_periods"}
        setattr(sequence, attribute.get(name) or name, 0)
    pass_time(keeper, LOOK_DS)
    assert len(times(keeper)) == 1


def test_flash_is_written_no_more_than_once_a_second_however_fast_it_changes(start):
    keeper = start(saved())
    for _ in range(300):
        trip(keeper)
        pass_time(keeper, 1)
    gaps = [later - earlier for earlier, later in zip(times(keeper), times(keeper)[1:],
                                                      strict=False)]
    assert set(gaps) == {LOOK_DS}


def test_the_journal_waits_while_the_memory_is_written_and_works_on_otherwise(
        start, monkeypatch):
    keeper = start(saved())
    keeper.budget.next_ds = 1 << 30  # the night's plan, which takes a turn of its own
    calls = []
    monkeypatch.setattr(keeper.journal, "slack", lambda *_: calls.append(keeper.uptime_ds))
    pass_time(keeper, 9)
    trip(keeper)
    pass_time(keeper, 11)
    # Two pieces of slack a scan; one of them wrote, and no other.
    assert times(keeper) == [10]
    assert [calls.count(ds) for ds in range(1, 21)] == [2] * 9 + [1] + [2] * 10


CREEPING = {
    "heat by a step": lambda keeper: setattr(keeper.core.derived.heat, "heat", HEAT_STEP),
    "the night's length": lambda keeper: setattr(
        keeper.core.sequence.light, "last_night_min", 601),
    "the night's curve": lambda keeper: keeper.night.curve.__setitem__(7, 25001),
}


@pytest.mark.parametrize("name", CREEPING)
def test_what_creeps_is_saved_ten_minutes_after_the_last_save(start, name):
    keeper = start(saved())
    pass_time(keeper, 100)
    CREEPING[name](keeper)
    pass_time(keeper, TEN_MINUTES_DS - 101)
    assert times(keeper) == []
    pass_time(keeper, 1 + LOOK_DS)
    assert times(keeper) == [TEN_MINUTES_DS]
    pass_time(keeper, 2 * TEN_MINUTES_DS)
    assert len(times(keeper)) == 1  # nothing changed since


def test_ten_minutes_count_from_any_save(start):
    keeper = start(saved())
    pass_time(keeper, 5000)
    trip(keeper)
    pass_time(keeper, LOOK_DS)
    CREEPING["heat by a step"](keeper)
    pass_time(keeper, 7000)
    assert times(keeper) == [5010, 5010 + TEN_MINUTES_DS]


def test_heat_within_a_step_is_no_change(start):
    keeper = start(saved(heat=HEAT_STEP))
    keeper.core.derived.heat.heat = 2 * HEAT_STEP - 1
    pass_time(keeper, TEN_MINUTES_DS + LOOK_DS)
    assert times(keeper) == []
    keeper.core.derived.heat.heat = 2 * HEAT_STEP
    pass_time(keeper, LOOK_DS)
    assert len(times(keeper)) == 1


@pytest.mark.parametrize("name", ["forbidden", "drain"])
def test_what_is_left_of_an_order_is_saved_every_ten_minutes(start, name):
    keeper = start(saved(forbidden_min=40, drain_min=40))
    for _ in range(3 * TEN_MINUTES_DS):
        sequence, left = keeper.core.sequence, f"{name}_periods"
        setattr(sequence, left, getattr(sequence, left) - 1)
        pass_time(keeper, 1)
    assert len(times(keeper)) == 3
    at = place(f"{name}_min")
    assert [values[at] for _, values in keeper.retained.memory.saved] == [30, 20, 10]


# Quick delays come first


def test_a_change_waits_for_a_quiet_moment(start):
    keeper = start(saved())
    keeper.busy = True
    pass_time(keeper, LOOK_DS)
    trip(keeper)
    pass_time(keeper, 4 * LOOK_DS)
    assert times(keeper) == []
    keeper.busy = False
    pass_time(keeper, LOOK_DS)
    assert times(keeper) == [6 * LOOK_DS]


def test_but_no_longer_than_five_seconds(start):
    keeper = start(saved())
    keeper.busy = True
    pass_time(keeper, 95)
    trip(keeper)
    pass_time(keeper, 2 * FORCED_DS)
    # Seen at 100, then after FORCED_DS.
    assert times(keeper) == [100 + FORCED_DS]


def test_a_second_change_does_not_begin_the_wait_anew(start):
    keeper = start(saved())
    keeper.busy = True
    for _ in range(12):
        trip(keeper)
        pass_time(keeper, LOOK_DS)
    assert times(keeper) == [LOOK_DS + FORCED_DS, 2 * (LOOK_DS + FORCED_DS)]


def test_a_change_that_was_undone_waits_anew_when_it_comes_again(start):
    keeper = start(saved())
    keeper.busy = True
    sequence = keeper.core.sequence
    sequence.maintenance = True
    pass_time(keeper, 40)
    sequence.maintenance = False
    pass_time(keeper, 100)
    assert times(keeper) == []
    sequence.maintenance = True
    pass_time(keeper, 100)
    assert times(keeper) == [150 + FORCED_DS]


def test_what_creeps_waits_for_as_long_as_it_takes(start):
    keeper = start(saved())
    keeper.busy = True
    CREEPING["heat by a step"](keeper)
    pass_time(keeper, 2 * TEN_MINUTES_DS)
    assert times(keeper) == []
    keeper.busy = False
    pass_time(keeper, LOOK_DS)
    assert len(times(keeper)) == 1


# Writes that fail


def test_a_write_that_failed_is_counted_and_tried_again_a_second_later(start):
    keeper = start(saved())
    memory = keeper.retained.memory
    memory.broken = True
    trip(keeper)
    pass_time(keeper, 3 * LOOK_DS)
    assert (keeper.retained.failed(), times(keeper)) == (3, [])
    memory.broken = False
    pass_time(keeper, 3 * LOOK_DS)
    assert (keeper.retained.failed(), times(keeper)) == (3, [4 * LOOK_DS])
    assert memory.saved[0][1] == keeper.retained.values()


def test_a_write_that_failed_while_busy_is_tried_again_while_busy(start):
    keeper = start(saved())
    memory = keeper.retained.memory
    keeper.busy = memory.broken = True
    trip(keeper)
    pass_time(keeper, LOOK_DS + FORCED_DS)
    assert keeper.retained.failed() == 1
    memory.broken = False
    pass_time(keeper, LOOK_DS)
    assert len(times(keeper)) == 1


def test_of_what_creeps_a_write_that_failed_is_tried_again_ten_minutes_later(start):
    keeper = start(saved())
    memory = keeper.retained.memory
    memory.broken = True
    CREEPING["heat by a step"](keeper)
    pass_time(keeper, 2 * TEN_MINUTES_DS - LOOK_DS)
    assert keeper.retained.failed() == 1
    memory.broken = False
    pass_time(keeper, LOOK_DS)
    assert times(keeper) == [2 * TEN_MINUTES_DS]
