"""What acts ends a run, bars a start or locks out: whole scans, element by element.

What must follow is the word of `statement`; the readings are those of `stimuli`.  Each
element runs on a rig that has it: what stands in, on one without what it stands in for.
"""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.protection.elements import BOTH, number
from tests.keeper import statement as said
from tests.keeper.scripted import HEALTHY
from tests.keeper.stimuli import GAP, SHOWN, STATE, delay_scans, number_of, off_by, without
from tests.keeper.ways import (
    DULL,
    NIGHT,
    SUN,
    WATER,
    bench_in,
    drain,
    posted,
    stays,
    until,
)

FLOW_WINDOW = 20   # scans over which a flow is measured
SETTLED = 10       # less than any delay
START_SCANS = 400  # a start takes no longer than sun, night or the wait after a trip
# A run of each side, as a state and what the meters show in it.
RUNS = {"trial": ("pump", [SUN]), "pumping": ("pump", [SUN, WATER]),
        "running": ("light", [NIGHT, (ch.PULSES_DOWN, 3), (ch.GENERATOR_MV, 9500)]),
        "draining": ("light", [DULL, (ch.PULSES_DOWN, 3)])}
LONG = {"trial_s": 600, "trip_wait_s": 60}
# Where no flow is read, the pump's power shows that it lifts: here the 18 W of a healthy run.
LIFTS = {"useful_sure_mW": 15000}
ORDERED_MW, ORDERED_SCANS = 600, 6000


def run(bench, name, readings, scans=1):
    """Scans with readings that stay; a valve's gap and what the keeper remembers do so too."""
    before = SHOWN[name].before
    for _ in range(scans):
        for place, value in readings:
            if place == GAP:
                bench.set([(ch.VALVE_PERMILLE, off_by(bench.board.outputs[ch.OUT_VALVE], value))])
            elif place is not None:
                bench.set([(place, value)])
        if before:
            before(bench.scan.derived, readings)
        bench.run()
        assert bench.unsafe() is None


def acts(bench, name):
    return bool(bench.scan.protection.acting[number(name) - 1])


def until_it_acts(bench, name):
    """Shows what is beyond the pickup until the element acts, in its time."""
    for _ in range(delay_scans(name, bench.settings) + FLOW_WINDOW + 1):
        run(bench, name, SHOWN[name].beyond)
        if acts(bench, name):
            return
    raise AssertionError(f"{name} does not act in time")


# Without the panel's voltage nobody knows that it is night.
NO_SIGN_OF_NIGHT = {("3-PAN", "light")}


def has(bench, place):
    """Whether a bench's rig has a reading."""
    return bool(number_of("fitted", bench.settings) >> place & 1)


def order_light(bench):
    """A person orders light."""
    bench.scan.sequence.light.hold(ORDERED_MW, ORDERED_SCANS)


def bring_on(bench, side, way):
    """Sun or night; of a panel that nothing reads neither is told, and light is ordered."""
    bench.set(way)
    if side == "light" and not has(bench, ch.PANEL_MV):
        order_light(bench)


def rig_of(name):
    """Settings [by name] of a rig that has an element, with those that its readings need."""
    return dict([without(name), *SHOWN[name].changes])


def run_of(name, state):
    """A bench that has come to a run, on a rig that has the element."""
    changes = {**rig_of(name), **LONG}
    fitted = changes["fitted"]
    if state == "pumping" and not fitted >> ch.FLOW_UP & 1:
        changes |= LIFTS
        if not fitted >> ch.PANEL_MV & 1:
            del changes["trial_s"]   # nothing but its time ends a trial
    if state == "running" and not fitted >> ch.PANEL_MV & 1:
        bench = bench_in(mo.STANDSTILL, **changes)
        until(bench, mo.RUNNING, order_light)
        return bench
    return bench_in(STATE[state], **changes)


def at_work(name, state):
    """A bench in a run that has gone on for a while, nothing beyond any limit."""
    bench = run_of(name, state)
    bench.run(SETTLED, RUNS[state][1])
    assert bench.state == STATE[state]
    assert not any(bench.scan.protection.acting)
    return bench


# Under the running pump an open valve is 33-VLV's, long before it is 48-VLV's; a valve
# that is driven open was not pressed shut.
ENDED = [(row.id, state) for row in said.STATEMENT for state, (side, _) in RUNS.items()
         if row.does in said.ENDS and state in row.armed and side in row.side
         and (row.id, side) not in {("48-VLV", "pump"), ("33-SHT", "light")}]
SPARED = [(row.id, state) for row in said.STATEMENT for state, (side, _) in RUNS.items()
          if state in row.armed and (row.does not in said.ENDS or side not in row.side)]
BARRED = [row.id for row in said.STATEMENT if "standstill" in row.armed]


@pytest.mark.parametrize(("name", "state"), ENDED)
def test_it_ends_the_run_of_its_side_in_the_scan_in_which_it_acts(name, state):
    bench = at_work(name, state)
    until_it_acts(bench, name)
    assert bench.board.outputs[ch.OUT_PUMP] == 0
    pumped = RUNS[state][0] == "pump"
    assert bench.state == (mo.STANDSTILL if pumped else mo.CLOSING)
    cause = mo.TRIPPED if said.BY_ID[name].does in said.COUNTS else mo.STOPPED
    assert posted(bench, ev.STATE)[-1][1:3] == (STATE[state], cause)
    assert bench.scan.protection.first == number(name)
    before = bench.board.outputs[ch.OUT_VALVE]
    bench.run()
    assert bench.board.outputs[ch.OUT_VALVE] < before or before == 0


@pytest.mark.parametrize(("name", "state"), SPARED)
def test_it_lets_a_run_that_is_none_of_its_business_go_on(name, state):
    bench = at_work(name, state)
    until_it_acts(bench, name)
    # A lockout turns both modes off, whatever caused it.
    locks = said.BY_ID[name].does == said.LOCK
    assert bench.scan.sequence.lockout.sides == (BOTH if locks else 0)
    run(bench, name, SHOWN[name].beyond, 10)
    assert (bench.state == STATE[state]) != locks


@pytest.mark.parametrize(("side", "way", "started"), [
    ("pump", [SUN], mo.TRIAL), ("light", [NIGHT], mo.RUNNING)])
@pytest.mark.parametrize("name", BARRED)
def test_it_bars_the_start_of_its_side_while_it_acts_and_of_no_other(name, side, way, started):
    wanted, shown = said.BY_ID[name], SHOWN[name]
    bench = bench_in(mo.STANDSTILL, **rig_of(name))
    until_it_acts(bench, name)
    bring_on(bench, side, way)
    bars = wanted.does == said.LOCK or wanted.does in said.BARS and side in wanted.side
    bars = bars or (name, side) in NO_SIGN_OF_NIGHT
    for _ in range(START_SCANS):
        run(bench, name, shown.beyond)
        if bench.state != mo.STANDSTILL:
            break
    assert bench.state == (mo.STANDSTILL if bars else started)
    if bars and wanted.does != said.LOCK:
        bench.board.motor_follows = True
        remembered = shown.inside if shown.inside and shown.inside[0][0] is None else ()
        for _ in range(3 * delay_scans(name, bench.settings) + START_SCANS):
            run(bench, name, (*remembered, *HEALTHY, (GAP, 0), *way))
            if bench.state != mo.STANDSTILL:
                break
        assert bench.state == started


def ordered_to_drain(readings):
    """A bench at standstill, told to drain while readings have stood for long."""
    bench = bench_in(mo.STANDSTILL)
    bench.run(700, readings)
    drain(bench)
    return bench


@pytest.mark.parametrize("readings", [
    [(ch.C_71L_UP, 0)], [(ch.LEVEL_MM, 0)], [(ch.WATER_MDEGC, 1000)], [(ch.C_71H_UP, 0)],
    [(ch.WATER_MDEGC, ch.INVALID)], [(ch.C_71H_LO, 0)]])
def test_what_drain_down_is_there_for_neither_bars_nor_ends_it(readings):
    """Cold pipes, an empty tank, no room below: it must empty the pipes all the same."""
    bench = ordered_to_drain(readings)
    assert any(bench.scan.protection.acting)
    until(bench, mo.DRAINING, most=5)
    stays(bench, mo.DRAINING, 700)
