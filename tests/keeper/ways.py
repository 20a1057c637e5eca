"""Ways to each state of operation, and what brings a cause about."""

from keeper import channels as ch
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
STOP_PRESSED = (ch.C_STOP, 0)
OVER_VOLTAGE = (ch.GENERATOR_MV, 15000)
PRESSED, RELEASED = (ch.BUTTON, 1), (ch.BUTTON, 0)

MINUTES = 600  # scans


def drain(bench):
    """A person orders drain-down for a quarter of an hour."""
    bench.scan.sequence.drain_periods = 15 * MINUTES


def maintain(bench):
    """A person orders maintenance."""
    bench.scan.sequence.maintenance = True


def end_orders(bench):
    """What was ordered has run out."""
    bench.scan.sequence.drain_periods = 0
    bench.scan.sequence.maintenance = False


# How to come to a state from a fresh start: inputs or an order, one stage after the other.
WAY_TO = {
    mo.STANDSTILL: [(mo.STANDSTILL, [DULL])],
    mo.TRIAL: [(mo.TRIAL, [SUN])],
    mo.PUMPING: [(mo.PUMPING, [SUN, WATER])],
    mo.RUNNING: [(mo.RUNNING, [NIGHT])],
    mo.CLOSING: [(mo.RUNNING, [NIGHT]), (mo.CLOSING, [(ch.VALVE_PERMILLE, 200), EMPTY])],
    mo.DRAINING: [(mo.STANDSTILL, [DULL]), (mo.DRAINING, drain)],
    mo.MAINTENANCE: [(mo.STANDSTILL, [DULL]), (mo.MAINTENANCE, maintain)],
}
# What brings a cause about, by the mode of the state that it ends.
BRINGS = {
    (mo.SUN_ENOUGH, mo.STANDSTILL_MODE): [SUN],
    (mo.LIGHT_DUE, mo.STANDSTILL_MODE): [NIGHT],
    (mo.DRAIN_ORDERED, mo.STANDSTILL_MODE): drain,
    (mo.MAINTENANCE_ORDERED, mo.STANDSTILL_MODE): maintain,
    (mo.WATER_SEEN, mo.PUMP_MODE): [WATER],
    (mo.TOO_WEAK, mo.PUMP_MODE): [DRY],
    (mo.STOPPED, mo.PUMP_MODE): [FULL],
    (mo.TRIPPED, mo.PUMP_MODE): [HOT],
    (mo.ORDERED_OFF, mo.PUMP_MODE): maintain,
    (mo.LIGHT_OVER, mo.TURBINE_MODE): [DULL],
    (mo.STOPPED, mo.TURBINE_MODE): [EMPTY],
    (mo.TRIPPED, mo.TURBINE_MODE): [OVER_VOLTAGE],
    (mo.VALVE_SHUT, mo.TURBINE_MODE): [(ch.VALVE_PERMILLE, 0)],
    (mo.ORDERED_OFF, mo.TURBINE_MODE): drain,
    (mo.MAINTENANCE_ORDERED, mo.TURBINE_MODE): maintain,
    (mo.STOPPED, mo.DRAIN_MODE): [STOP_PRESSED],
    (mo.TRIPPED, mo.DRAIN_MODE): [OVER_VOLTAGE],
    (mo.ORDER_OVER, mo.DRAIN_MODE): end_orders,
    (mo.ORDER_OVER, mo.MAINTENANCE_MODE): end_orders,
}


def bring(bench, what):
    """Brings inputs [pairs of place and value] or an order about."""
    if callable(what):
        what(bench)
    else:
        bench.set(what)


def until(bench, state, changes=(), most=3000):
    """Scans until a state is reached; returns the scans [-] that it took."""
    bring(bench, changes)
    for scan in range(most):
        bench.run()
        assert bench.unsafe() is None
        if bench.state == state:
            return scan + 1
    raise AssertionError(f"{mo.STATES[state][0]} not reached, in {mo.STATES[bench.state][0]}")


def stays(bench, state, scans, changes=()):
    """Scans in none of which the state is another."""
    bring(bench, changes)
    for _ in range(scans):
        bench.run()
        assert bench.state == state


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


def stopped(state, changes, target=mo.STANDSTILL, **settings):
    """A rig that has just left a state, `changes` being why."""
    bench = bench_in(state, **settings)
    until(bench, target, changes)
    return bench
