"""States of operation: every transition, minimum times, hold-off, day and night."""

import pytest

from forebay.words.operation import CAUSES, MODES
from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper import settings as st
from keeper.protection import elements as el
from tests.keeper.scripted import Bench
from tests.keeper.ways import (
    BRINGS,
    DRY,
    DULL,
    EMPTY,
    FULL,
    HOT,
    NIGHT,
    NOT_FULL,
    SUN,
    WATER,
    bench_in,
    bring,
    posted,
    seconds,
    until,
)

# Every transition, written from the design: whatever ends water that runs down closes the
# valve first, whatever ends the pump is at rest at once, and nothing runs from one mode
# straight into another.
TRANSITIONS = (
    ("standstill", "sun enough", "trial"),
    ("standstill", "light due", "running"),
    ("standstill", "drain ordered", "draining"),
    ("standstill", "maintenance ordered", "maintenance"),
    ("trial", "water seen", "pumping"),
    ("trial", "trial over", "pumping"),
    ("trial", "too weak", "standstill"),
    ("trial", "stop", "standstill"),
    ("trial", "trip", "standstill"),
    ("trial", "ordered off", "standstill"),
    ("pumping", "too weak", "standstill"),
    ("pumping", "stop", "standstill"),
    ("pumping", "trip", "standstill"),
    ("pumping", "ordered off", "standstill"),
    ("running", "light over", "closing"),
    ("running", "stop", "closing"),
    ("running", "trip", "closing"),
    ("running", "ordered off", "closing"),
    ("closing", "valve shut", "standstill"),
    ("closing", "maintenance ordered", "maintenance"),
    ("draining", "stop", "closing"),
    ("draining", "trip", "closing"),
    ("draining", "order over", "closing"),
    ("maintenance", "order over", "closing"),
)
STATE = {row[0]: number for number, row in enumerate(mo.STATES)}
CAUSE = {said.name: number for number, said in CAUSES.items()}


# A cause that only a rig without some readings has: what such a rig is fitted with.
NO_WATER_SEEN = ch.ALL_FITTED & ~(1 << ch.FLOW_UP | 1 << ch.PUMP_MA)
FITTED_FOR = {CAUSE["trial over"]: {"fitted": NO_WATER_SEEN}}
MODE_OF = {
    "standstill": "standstill", "trial": "pump", "pumping": "pump", "running": "turbine",
    "closing": "turbine", "draining": "drain-down", "maintenance": "maintenance",
}  # fmt: skip


def test_a_person_sees_of_each_state_its_mode():
    assert {state: MODES[mode] for state, mode in mo.STATES} == MODE_OF
    named = {name: number for name, number in vars(mo).items() if name.upper() in
             {state.upper() for state in MODE_OF}}  # fmt: skip
    assert {name.lower(): number for name, number in named.items()} == STATE
    assert mo.mask(mo.STANDSTILL, mo.RUNNING, mo.MAINTENANCE) == 0b1001001


def test_the_table_of_transitions_is_that_of_the_design():
    named = [(mo.STATES[a][0], CAUSES[b].name, mo.STATES[c][0]) for a, b, c in mo.TRANSITIONS]
    assert sorted(named) == sorted(TRANSITIONS)
    assert mo.STATES[mo.SAFE_STATE][0] == "closing"


@pytest.mark.parametrize(
    ("source", "cause", "target"),
    [(STATE[a], CAUSE[b], STATE[c]) for a, b, c in TRANSITIONS],
    ids=[f"{a}-{b}".replace(" ", "_") for a, b, _ in TRANSITIONS],
)
def test_every_transition_of_the_table_is_taken(source, cause, target):
    bench = bench_in(source, **FITTED_FOR.get(cause, {}))
    bring(bench, BRINGS.get((cause, mo.STATES[source][1]), ()))
    while not posted(bench, ev.STATE) or posted(bench, ev.STATE)[-1][1:3] != (source, cause):
        bench.run()
        assert bench.unsafe() is None
        assert bench.scan.scans < 3000
    assert bench.state == target
    assert bench.board.outputs[ch.OUT_PUMP] == int(target in (mo.TRIAL, mo.PUMPING))
    before = bench.board.outputs[ch.OUT_VALVE]
    if target == mo.CLOSING:
        bench.run()
        assert bench.board.outputs[ch.OUT_VALVE] < before or before == 0


def test_a_cause_without_an_entry_leads_to_the_safe_state():
    bench = bench_in(mo.PUMPING)
    sequence = bench.scan.sequence
    sequence._enter(mo.LIGHT_DUE, bench.scan.protection)
    assert bench.state == mo.SAFE_STATE
    bench.scan._drive(bench.scan.values, mo.PUMPING)
    assert bench.board.outputs == [0] * len(ch.OUTPUTS)


def test_a_fresh_start_closes_a_valve_that_stands_open_no_faster_than_its_rate():
    bench = Bench()
    bench.board.outputs[ch.OUT_VALVE] = 600
    told = [600]
    while bench.state == mo.CLOSING:
        bench.run()
        told.append(bench.board.outputs[ch.OUT_VALVE])
    rate = bench.settings[st.index("valve_rate_permille_s")] // 10
    assert all(0 <= a - b <= rate for a, b in zip(told, told[1:], strict=False))
    assert bench.state == mo.STANDSTILL


@pytest.mark.parametrize("state", [mo.TRIAL, mo.PUMPING])
@pytest.mark.parametrize("trip", [HOT, FULL, (ch.C_71HH_UP, 0), (ch.C_71L_LO, 0)])
def test_protection_passes_by_the_least_run_of_the_pump(state, trip):
    bench = bench_in(state, pump_least_on_s=3600)
    assert until(bench, mo.STANDSTILL, [trip]) <= 12
    assert bench.board.outputs[ch.OUT_PUMP] == 0


def test_weak_sun_waits_for_the_least_run_of_the_pump():
    bench = bench_in(mo.PUMPING, pump_least_on_s=30)
    left = bench.scan.sequence.pump.left_periods
    scans = until(bench, mo.STANDSTILL, [DULL, DRY])
    assert scans == pytest.approx(left, abs=1)
    assert scans <= seconds(bench, "pump_least_on_s")
    assert posted(bench, ev.STATE)[-1][2] == mo.TOO_WEAK


def test_a_gap_in_the_flow_shorter_than_a_trial_does_not_stop_the_pump():
    bench = bench_in(mo.PUMPING)
    bench.run(300)
    for _ in range(5):
        bench.run(seconds(bench, "trial_s") - 5, [DRY])
        bench.run(40, [WATER])
    assert bench.state == mo.PUMPING


def test_the_pump_rests_at_least_as_long_as_set_after_protection_stopped_it():
    bench = bench_in(mo.PUMPING, pump_least_off_s=20)
    until(bench, mo.STANDSTILL, [FULL])
    assert until(bench, mo.TRIAL, [NOT_FULL]) == seconds(bench, "pump_least_off_s")


def test_a_trial_without_water_ends_after_its_time_and_is_no_trip():
    bench = bench_in(mo.TRIAL)
    assert until(bench, mo.STANDSTILL) == seconds(bench, "trial_s")
    assert not any(bench.scan.sequence.lockout.trips)
    assert posted(bench, ev.HELD_OFF)[0][1:3] == (el.PUMP, 5)


def test_the_hold_off_doubles_up_to_its_longest():
    bench = Bench()
    waits = []
    for _ in range(5):
        until(bench, mo.TRIAL, [SUN])
        until(bench, mo.STANDSTILL)
        waits.append(until(bench, mo.TRIAL) / 10)
        until(bench, mo.STANDSTILL)
        waits.append(posted(bench, ev.HELD_OFF)[-2][2])
    assert [event[2] for event in posted(bench, ev.HELD_OFF)] == [5, 10] + [15] * 8
    assert waits[0] == 5
    assert max(waits) == 15


def test_a_good_run_begins_the_hold_off_anew():
    bench = bench_in(mo.TRIAL)
    until(bench, mo.STANDSTILL)
    until(bench, mo.TRIAL)
    until(bench, mo.STANDSTILL)
    until(bench, mo.PUMPING, [WATER])
    bench.run(seconds(bench, "holdoff_longest_s") + 10)
    until(bench, mo.STANDSTILL, [DRY])
    assert [event[2] for event in posted(bench, ev.HELD_OFF)] == [5, 10, 5]


def test_a_dull_day_of_failed_starts_ends_without_lockout():
    bench = Bench([("holdoff_s", 1), ("holdoff_longest_s", 1)])
    bench.run(6000, [SUN])
    assert len(posted(bench, ev.HELD_OFF)) > 50
    assert bench.scan.sequence.lockout.sides == 0


def test_the_sun_must_hold_for_its_wait():
    bench = bench_in(mo.STANDSTILL)
    for _ in range(10):
        bench.run(seconds(bench, "start_wait_s") - 1, [SUN])
        bench.run(1, [DULL])
    assert bench.state == mo.STANDSTILL


def test_night_begins_after_its_wait_and_a_flash_of_light_does_not_end_it():
    bench = bench_in(mo.STANDSTILL)
    assert until(bench, mo.RUNNING, [NIGHT]) == seconds(bench, "dark_s")
    bench.run(seconds(bench, "dark_s") - 1, [SUN])
    bench.run(1, [NIGHT])
    assert bench.state == mo.RUNNING
    assert until(bench, mo.CLOSING, [DULL]) == seconds(bench, "dark_s")


@pytest.mark.parametrize("state", [mo.STANDSTILL, mo.RUNNING])
def test_an_untrusted_panel_voltage_keeps_day_and_night_as_they_were(state):
    bench = bench_in(state)
    bench.run(1000, [(ch.PANEL_MV, 70000)])
    assert bench.state == state


def test_without_a_setpoint_there_is_no_light():
    bench = bench_in(mo.STANDSTILL, setpoint_mW=0)
    bench.run(1000, [NIGHT])
    assert bench.state == mo.STANDSTILL


def test_the_turbine_rests_before_it_starts_again():
    bench = bench_in(mo.RUNNING, light_least_off_s=20)
    until(bench, mo.CLOSING, [EMPTY])
    until(bench, mo.STANDSTILL)
    assert until(bench, mo.RUNNING, [(ch.C_71L_UP, 1)]) == seconds(bench, "light_least_off_s")


def test_a_valve_that_does_not_report_shut_keeps_the_pump_off():
    bench = Bench()
    bench.run(500, [SUN, (ch.VALVE_PERMILLE, 100)])
    assert bench.state == mo.CLOSING
    bench.run(500, [(ch.VALVE_PERMILLE, 2000)])  # no reading at all
    assert bench.state == mo.CLOSING
    until(bench, mo.TRIAL, [(ch.VALVE_PERMILLE, 0)])


def test_a_valve_that_opens_by_itself_at_standstill_keeps_the_pump_off():
    bench = bench_in(mo.STANDSTILL)
    bench.run(500, [SUN, (ch.VALVE_PERMILLE, 100)])
    assert bench.state == mo.STANDSTILL
    # It goes on reading open though it is pressed shut again and again.
    acted = [event[1] for event in posted(bench, ev.ACTED)]
    assert acted == [el.number("48-VLV"), el.number("33-SHT")]
    until(bench, mo.TRIAL, [(ch.VALVE_PERMILLE, 0)])


def test_a_valve_that_reports_shut_too_early_keeps_the_pump_off_until_it_is_told_shut():
    bench = Bench([("valve_rate_permille_s", 10), ("start_wait_s", 1)])
    bench.board.outputs[ch.OUT_VALVE] = 600
    bench.run(1)
    bench.run(100, [SUN, (ch.VALVE_PERMILLE, 0)])
    assert bench.board.outputs[ch.OUT_VALVE] > 0
    assert bench.state == mo.CLOSING
    until(bench, mo.TRIAL)
