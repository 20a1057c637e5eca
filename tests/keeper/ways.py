"""Ways to each state of operation, and what brings a cause about."""

from keeper import channels as ch
from keeper import elements as el
from keeper import modes as mo
from keeper import settings as st
from tests.keeper.scripted import Bench

SUN = (ch.PANEL_MV, 30000)
DULL = (ch.PANEL_MV, 10000)
NIGHT = (ch.PANEL_MV, 0)
WATER = (ch.PULSES_UP, 5)
DRY = (ch.PULSES_UP, 0)
FULL, NOT_FULL = (ch.C_71H_UP, 0), (ch.C_71H_UP, 1)
EMPTY = (ch.C_71L_UP, 0)
HOT, COOL = (ch.MOTOR_MDEGC, 60000), (ch.MOTOR_MDEGC, 20000)
OVER_VOLTAGE = (ch.GENERATOR_MV, 15000)
PRESSED, RELEASED = (ch.BUTTON, 1), (ch.BUTTON, 0)

# How to come to a state from a fresh start: inputs, one stage after the other.
WAY_TO = {
    mo.STANDSTILL: [(mo.STANDSTILL, [DULL])],
    mo.TRIAL: [(mo.TRIAL, [SUN])],
    mo.PUMPING: [(mo.PUMPING, [SUN, WATER])],
    mo.RUNNING: [(mo.RUNNING, [NIGHT])],
    mo.CLOSING: [(mo.RUNNING, [NIGHT]), (mo.CLOSING, [(ch.VALVE_PERMILLE, 500), EMPTY])],
}
# What brings a cause about, by the mode of the state that it ends.
BRINGS = {
    (mo.SUN_ENOUGH, el.STANDSTILL_MODE): [SUN],
    (mo.LIGHT_DUE, el.STANDSTILL_MODE): [NIGHT],
    (mo.WATER_SEEN, el.PUMP_MODE): [WATER],
    (mo.TOO_WEAK, el.PUMP_MODE): [DRY],
    (mo.STOPPED, el.PUMP_MODE): [FULL],
    (mo.TRIPPED, el.PUMP_MODE): [HOT],
    (mo.LIGHT_OVER, el.TURBINE_MODE): [DULL],
    (mo.STOPPED, el.TURBINE_MODE): [EMPTY],
    (mo.TRIPPED, el.TURBINE_MODE): [OVER_VOLTAGE],
    (mo.VALVE_SHUT, el.TURBINE_MODE): [(ch.VALVE_PERMILLE, 0)],
}


def until(bench, state, changes=(), most=3000):
    """Scans until a state is reached; returns the scans [-] that it took."""
    bench.set(changes)
    for scan in range(most):
        bench.run()
        assert bench.unsafe() is None
        if bench.state == state:
            return scan + 1
    raise AssertionError(f"{mo.STATES[state][0]} not reached, in {mo.STATES[bench.state][0]}")


def bench_in(state, **changes):
    """A bench that has come to a state; changes: settings by name."""
    bench = Bench(tuple(changes.items()))
    for stage, inputs in WAY_TO[state]:
        until(bench, stage, inputs)
    return bench


def seconds(bench, name):
    """A setting in scans [-]."""
    return bench.settings[st.index(name)] * 10


def posted(bench, code):
    return [event for event in bench.events if event[0] == code]
