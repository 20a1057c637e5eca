"""Orders and their refusals, what is kept over a restart, and the whole keeper's slack."""

import pytest

from keeper import channels as ch
from keeper import elements as el
from keeper import events as ev
from keeper import modes as mo
from keeper import orders as od
from keeper import settings as st
from keeper.journal import Journal
from keeper.keeper import Keeper
from keeper.kept import COUNT
from keeper.remembered import FILES, Remembered
from tests.keeper.scripted import ScriptedBoard, settings_with
from tests.keeper.ways import DULL, HOT, NIGHT, PRESSED, RELEASED, SUN, WATER


class Rig:
    """A whole keeper on a scripted board, its journal and its memory in a folder."""

    def __init__(self, folder, changes=(), memory=True, safe_reason=0):
        self.folder = folder
        self.numbers = settings_with(changes)
        self.memory = memory
        self.safe_reason = safe_reason
        self.now_ms = 0
        self.boot()

    def boot(self):
        """Starts the board anew."""
        self.board = ScriptedBoard()
        journal = Journal(str(self.folder / "journal"), self.numbers[0], st.VERSION)
        memory = Remembered(str(self.folder / "rig")) if self.memory else None
        self.keeper = Keeper(self.numbers, self.board, journal, memory, self.safe_reason)

    def run(self, scans, changes=()):
        for place, value in changes:
            if place == ch.PUMP_MA:
                self.board.motor_follows = False
            self.board.inputs[place] = value
        for _ in range(scans):
            self.now_ms = self.now_ms + 100 & 0x3FFFFFFF
            self.keeper.scan(self.now_ms)
            for _ in range(3):
                self.keeper.slack(self.now_ms)

    def until(self, state, changes=(), most=6000):
        self.run(1, changes)
        for _ in range(most):
            if self.keeper.state == state:
                return
            self.run(1)
        raise AssertionError(f"state {state} not reached, in {self.keeper.state}")

    def press(self):
        """A press that resets a lockout."""
        self.run(3, [RELEASED])
        self.run(20, [PRESSED])
        self.run(3, [RELEASED])

    @property
    def locked(self):
        return self.keeper.core.sequence.lockout.sides


@pytest.fixture
def rig(tmp_path):
    one = Rig(tmp_path)
    one.run(10)
    one.press()  # a brand-new board is locked out
    assert not one.locked
    return one


def test_every_order_names_its_arguments_and_has_a_number_of_its_own():
    assert [row[od.O_CODE] for row in od.ORDERS] == list(range(1, len(od.ORDERS) + 1))
    for row in od.ORDERS:
        assert row[od.O_A_LOW] <= row[od.O_A_HIGH]
        assert row[od.O_B_LOW] <= row[od.O_B_HIGH]


@pytest.mark.parametrize("row", od.ORDERS, ids=[row[od.O_NAME] for row in od.ORDERS])
def test_an_argument_out_of_range_changes_nothing(rig, row):
    for a, b in ((row[od.O_A_HIGH] + 1, row[od.O_B_LOW]), (row[od.O_A_LOW] - 1, row[od.O_B_LOW]),
                 (row[od.O_A_LOW], row[od.O_B_HIGH] + 1), (row[od.O_A_LOW], row[od.O_B_LOW] - 1)):
        assert rig.keeper.order(row[od.O_CODE], a, b) == od.RANGE
    rig.run(50)
    assert rig.keeper.state == mo.STANDSTILL


def test_an_order_that_does_not_exist_is_refused(rig):
    assert rig.keeper.order(0, 0, 0) == od.UNKNOWN
    assert rig.keeper.order(len(od.ORDERS) + 1, 0, 0) == od.UNKNOWN


def test_every_order_is_an_event_with_its_outcome(rig):
    rig.keeper.order(od.RELEASE, 0, 0)
    rig.keeper.order(99, 0, 0)
    told = [tuple(slot[:3]) for slot in rig.keeper.events.slots if slot[0] == ev.ORDER]
    assert (ev.ORDER, od.RELEASE, od.DONE) in told
    assert (ev.ORDER, 99, od.UNKNOWN) in told


def test_light_by_order_holds_its_power_and_runs_out(rig):
    assert rig.keeper.order(od.LIGHT, 800, 1) == od.DONE
    rig.until(mo.RUNNING)
    assert rig.keeper.setpoint_mW == 800
    rig.run(700)
    assert rig.keeper.state in (mo.CLOSING, mo.STANDSTILL)


def test_light_below_the_useful_is_refused_and_a_missing_step_too(rig):
    assert rig.keeper.order(od.LIGHT, 299, 10) == od.NOT_USEFUL
    assert rig.keeper.order(od.BRIGHTNESS, 4, 10) == od.NO_STEP
    assert rig.keeper.order(od.BRIGHTNESS, 3, 10) == od.DONE
    assert rig.keeper.setpoint_mW == 1000


def test_rest_stops_the_light_and_the_pump_and_runs_out(rig):
    rig.until(mo.RUNNING, [NIGHT])
    assert rig.keeper.order(od.REST, 1, 0) == od.DONE
    rig.until(mo.STANDSTILL)
    rig.until(mo.RUNNING)
    rig.until(mo.PUMPING, [SUN, WATER])
    rig.keeper.order(od.REST, 1, 0)
    rig.until(mo.STANDSTILL, most=5)
    rig.until(mo.TRIAL)


def test_the_pump_can_be_forbidden_and_allowed(rig):
    rig.until(mo.PUMPING, [SUN, WATER])
    rig.keeper.order(od.PUMP_ALLOWED, 0, 60)
    rig.until(mo.STANDSTILL, most=5)
    rig.run(500)
    assert rig.keeper.state == mo.STANDSTILL
    rig.keeper.order(od.PUMP_ALLOWED, 1, 0)
    rig.until(mo.TRIAL)


def test_maintenance_is_refused_politely_while_something_runs(rig):
    rig.until(mo.PUMPING, [SUN, WATER])
    assert rig.keeper.order(od.MAINTAIN, 1, 0) == od.RUNS
    assert rig.keeper.order(od.MAINTAIN, 2, 1) == od.DONE
    rig.until(mo.MAINTENANCE, most=20)
    assert rig.keeper.stay_out
    assert rig.board.outputs == [0] * len(ch.OUTPUTS)
    rig.keeper.order(od.MAINTAIN, 0, 0)
    rig.until(mo.TRIAL)


def test_maintenance_goes_before_a_valve_that_does_not_shut(rig):
    rig.until(mo.RUNNING, [NIGHT])
    rig.board.valve_follows = False
    rig.run(1, [(ch.VALVE_PERMILLE, 500)])
    rig.keeper.order(od.MAINTAIN, 2, 0)
    rig.until(mo.MAINTENANCE, most=100)


def test_drain_down_opens_the_valve_and_ends_shut(rig):
    rig.until(mo.RUNNING, [NIGHT])
    rig.keeper.order(od.DRAIN_DOWN, 1, 1)
    rig.until(mo.DRAINING)
    rig.run(100)
    assert rig.board.outputs == [0, 1000, 1, 1]
    rig.until(mo.CLOSING, [DULL])
    rig.until(mo.STANDSTILL)
    assert rig.board.outputs == [0] * len(ch.OUTPUTS)


def test_no_order_overrides_protection(rig):
    rig.run(10, [(ch.C_71L_UP, 0)])
    rig.keeper.order(od.LIGHT, 600, 10)
    rig.run(300)
    assert rig.keeper.state == mo.STANDSTILL
    rig.run(10, [(ch.C_STOP, 0)])
    rig.keeper.order(od.DRAIN_DOWN, 1, 10)
    rig.run(300)
    assert rig.board.outputs == [0] * len(ch.OUTPUTS)


def lock_out(rig, cause=HOT):
    for _ in range(3):
        rig.until(mo.PUMPING, [SUN, WATER, (ch.MOTOR_MDEGC, 20000), (ch.C_71HH_UP, 1)])
        rig.until(mo.STANDSTILL, [cause])


def test_a_lockout_is_reset_by_an_order_of_one_who_has_seen_it(rig):
    assert rig.keeper.order(od.RESET, 1, 0) == od.NOTHING_LOCKED
    lock_out(rig)
    assert rig.locked
    assert rig.keeper.order(od.RESET, 0, 0) == od.RANGE
    assert rig.keeper.order(od.RESET, 1, 0) == od.CAUSE_PRESENT
    assert rig.keeper.order(od.LIGHT, 600, 1) == od.LOCKED
    rig.run(60, [(ch.MOTOR_MDEGC, 20000)])
    assert rig.keeper.order(od.RESET, 1, 0) == od.DONE
    assert not rig.locked


@pytest.mark.parametrize("cause", [(ch.C_71HH_UP, 0), (ch.PUMP_MA, 500)])
def test_some_lockouts_are_reset_only_at_the_rig(rig, cause):
    if cause[0] == ch.PUMP_MA:
        rig.run(60, [cause])
        rig.run(60, [(ch.PUMP_MA, 0)])
    else:
        lock_out(rig, cause)
        rig.run(60, [(ch.C_71HH_UP, 1)])
    assert rig.locked
    assert rig.keeper.order(od.RESET, 1, 0) == od.ONLY_AT_RIG
    rig.press()
    assert not rig.locked


def test_the_clock_is_set_by_order(rig):
    assert rig.keeper.order(od.CLOCK, 20000, 3600) == od.DONE
    assert rig.keeper.core.sequence.light.clock_known
    assert rig.keeper.clock_days == 20000


def test_the_safe_mode_holds_whatever_is_ordered(tmp_path):
    rig = Rig(tmp_path, safe_reason=2)
    rig.run(300, [SUN, WATER])
    assert rig.keeper.state == mo.MAINTENANCE
    assert rig.keeper.order(od.LIGHT, 600, 10) == od.SAFE
    assert rig.keeper.order(od.MAINTAIN, 0, 0) == od.SAFE
    rig.run(300, [NIGHT])
    assert rig.keeper.state == mo.MAINTENANCE
    assert rig.board.outputs == [0] * len(ch.OUTPUTS)


def test_fallback_settings_are_legal():
    assert st.problems(st.fallback()) == []


# Over a restart

def test_a_board_that_remembers_nothing_is_locked_out_hot_and_its_counter_full(tmp_path):
    rig = Rig(tmp_path)
    rig.run(600, [SUN, WATER])
    assert rig.locked == el.BOTH
    assert rig.keeper.state == mo.STANDSTILL
    core = rig.keeper.core
    assert core.derived.heat.heat > 0.9 * core.derived.heat.FULL * 0.3
    assert core.derived.starts.milli > 100_000
    assert rig.keeper.order(od.RESET, 1, 0) == od.ONLY_AT_RIG
    rig.press()
    assert not rig.locked


def test_lockout_trips_starts_and_heat_outlive_a_restart(rig):
    lock_out(rig)
    rig.run(200)
    before = rig.keeper.kept.values()
    rig.boot()
    after = rig.keeper.kept.values()
    assert after[:2] == before[:2] == [el.BOTH, el.number("26-MOT")]
    assert after[-len(el.ELEMENTS):] == before[-len(el.ELEMENTS):]
    rig.run(600, [SUN, WATER])
    assert rig.keeper.state == mo.STANDSTILL


def test_a_trip_that_did_not_lock_out_counts_on_after_a_restart(rig):
    for expected in (0, 0, el.BOTH):
        rig.until(mo.PUMPING, [SUN, WATER, (ch.MOTOR_MDEGC, 20000)])
        rig.until(mo.STANDSTILL, [HOT])
        rig.run(150)
        rig.boot()
        assert rig.locked == expected


@pytest.mark.parametrize("harm", ["cut", "flip", "empty"])
def test_a_damaged_file_costs_no_more_than_the_last_change(rig, harm):
    lock_out(rig)
    rig.run(200)
    newest = rig.folder / "rig" / FILES[1 - rig.keeper.kept.memory.place]
    data = bytearray(newest.read_bytes())
    if harm == "flip":
        data[20] ^= 1
    newest.write_bytes(data if harm == "flip" else data[:0 if harm == "empty" else 30])
    rig.boot()
    assert rig.keeper.kept.memory.sequence > 0  # the older file
    for name in FILES:
        (rig.folder / "rig" / name).write_bytes(b"")
    rig.boot()
    assert rig.locked == el.BOTH


def test_files_take_turns_and_the_newest_counts(tmp_path):
    memory = Remembered(str(tmp_path / "rig"))
    for value in range(5):
        assert memory.save([value] * COUNT)
        assert Remembered(str(tmp_path / "rig")).load(COUNT) == [value] * COUNT
    assert Remembered(str(tmp_path / "rig")).load(COUNT + 1) is None


def test_a_memory_that_cannot_be_written_stops_nothing(tmp_path):
    (tmp_path / "rig").write_text("a file where the folder should be")
    rig = Rig(tmp_path)
    rig.run(10)
    rig.press()
    rig.until(mo.PUMPING, [SUN, WATER])
    assert rig.keeper.kept.memory.failed > 0


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


def dusk(tmp_path, level_mm, **changes):
    rig = Rig(tmp_path, tuple(changes.items()), memory=False)
    told = []
    rig.keeper.journal.slack = lambda *_: None  # the events stay where they can be seen
    rig.run(30, [(ch.LEVEL_MM, level_mm)])
    rig.until(mo.RUNNING, [NIGHT])
    rig.run(30)
    told += planned(rig)
    return rig, told


def test_a_night_that_the_water_allows_is_lit_as_wanted(tmp_path):
    rig, told = dusk(tmp_path, 950, longest_night_min=300)
    assert rig.keeper.setpoint_mW == 600
    assert told[0] == (ev.LIGHT_PLANNED, 1, 600)


def test_a_longer_night_is_dimmed_so_that_it_lasts(tmp_path):
    rig, told = dusk(tmp_path, 950, longest_night_min=480)
    assert 300 <= rig.keeper.setpoint_mW < 600
    assert told[0][:2] == (ev.LIGHT_PLANNED, 1)
    hours = rig.keeper.night.lasts_min(rig.keeper.setpoint_mW, 900_000)
    assert hours >= 480


def test_a_night_that_nothing_lasts_keeps_the_wanted_light_and_offers_hours(tmp_path):
    rig, told = dusk(tmp_path, 950, longest_night_min=900)
    assert rig.keeper.setpoint_mW == 600
    assert told[0] == (ev.LIGHT_PLANNED, 0, 600)
    assert told[1][:2] == (ev.LIGHT_LASTS, 0)
    assert told[2][:2] == (ev.LIGHT_LASTS, 1)
    assert told[1][2] < told[2][2]


def test_without_a_level_there_is_no_plan(tmp_path):
    rig, told = dusk(tmp_path, 20000, longest_night_min=480)
    assert rig.keeper.setpoint_mW == 600
    assert told == []
