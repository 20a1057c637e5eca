"""What a scan tells the outputs: the pump, the valve by the lamps' power, and the dump load."""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from keeper.protection import elements as el
from tests.keeper.scripted import Bench
from tests.keeper.ways import DULL, EMPTY, NIGHT, OVER_VOLTAGE, bench_in, until

RATE = 25  # permille a scan: valve_rate_permille_s
SETPOINT_MW = 600
BEGINS = 514  # where a full tank would give it: 4/8 of 1000 mW at 490, 5/8 at 520 permille


def lamps(volts_mV, lamp_mA):
    return [(ch.GENERATOR_MV, volts_mV), (ch.LAMP_MA, lamp_mA)]


def valve(bench):
    return bench.board.outputs[ch.OUT_VALVE]


def test_light_opens_the_valve_while_it_is_too_dim_and_shuts_it_while_it_is_too_bright():
    """12 V and 50 mA are the setpoint of 600 mW."""
    bench = bench_in(mo.RUNNING)
    bench.run(30, lamps(12_000, 50))
    assert valve(bench) == BEGINS
    bench.run(45, lamps(12_000, 45))
    opened = valve(bench)
    assert opened > BEGINS
    bench.run(300, lamps(12_000, 50))
    assert abs(valve(bench) - opened) <= 1  # the reckoning follows the sensor slowly
    bench.run(70, lamps(12_000, 56))
    assert valve(bench) < opened


def test_each_night_s_light_begins_as_gently_as_the_first():
    """What the night before needed is forgotten: the tank may be full again."""
    bench = Bench()
    nights = []
    for _ in range(2):
        until(bench, mo.RUNNING, [NIGHT, *lamps(12_000, 40)])
        told = []
        for _ in range(60):
            told.append(valve(bench))
            bench.run()
        nights.append(told)
        until(bench, mo.STANDSTILL, [DULL])
    assert nights[0] == nights[1]
    assert nights[0][:20] == [RATE * (scan + 1) for scan in range(20)]


@pytest.mark.parametrize("place", [ch.GENERATOR_MV, ch.LAMP_MA])
def test_while_a_power_is_not_known_the_valve_stands(place):
    bench = bench_in(mo.RUNNING)
    bench.run(60, lamps(12_000, 45))
    told = valve(bench)
    bench.run(4, [(place, ch.INVALID)])  # the element of its sensor acts after half a second
    assert bench.state == mo.RUNNING
    assert valve(bench) == told


@pytest.mark.parametrize("stands", [0, 15, 400, 1000])
def test_a_board_that_starts_shuts_the_valve_from_where_it_stands(stands):
    bench = Bench()
    bench.board.outputs[ch.OUT_VALVE] = stands
    told = []
    for _ in range(45):
        bench.run()
        told.append(valve(bench))
    assert told == [max(0, stands - RATE * (scan + 1)) for scan in range(45)]


def test_a_board_that_starts_and_does_not_know_the_valve_shuts_it_as_if_it_stood_open():
    bench = Bench()
    told = []
    for _ in range(45):
        bench.run(1, [(ch.VALVE_PERMILLE, ch.INVALID)])
        told.append(valve(bench))
    assert told == [max(0, 1000 - RATE * (scan + 1)) for scan in range(45)]


def test_only_the_first_scan_takes_the_valve_over():
    """A valve that is turned by hand later is told to be shut at once."""
    bench = Bench()
    bench.run(1)
    bench.run(1, [(ch.VALVE_PERMILLE, 600)])
    assert valve(bench) == 0


@pytest.mark.parametrize("state", [mo.STANDSTILL, mo.TRIAL, mo.PUMPING, mo.MAINTENANCE])
def test_where_nothing_flows_down_the_valve_is_told_to_be_shut(state):
    bench = bench_in(state)
    bench.run(5)
    assert valve(bench) == 0
    assert bench.board.outputs[ch.OUT_PUMP] == int(state in (mo.TRIAL, mo.PUMPING))


def test_a_light_that_ends_shuts_the_valve_at_its_safe_rate():
    bench = bench_in(mo.RUNNING)
    bench.run(60, lamps(12_000, 45))
    before = valve(bench)
    until(bench, mo.CLOSING, [EMPTY])
    told = []
    while bench.state == mo.CLOSING:
        told.append(valve(bench))
        bench.run()
    assert all(0 <= a - b <= RATE for a, b in zip(told, told[1:], strict=False))
    assert before - 3 * RATE <= told[0] <= before + 12 * RATE  # 71L-UP acts after half a second
    assert told[-1] == 0
    assert len(told) <= told[0] // RATE + 3


# The dump load

OVERSPEED = [(ch.GENERATOR_MV, 13_000), (ch.GENERATOR_MA, 800)]  # 13 V and 8 V in the winding


@pytest.mark.parametrize(
    ("changes", "alone"),
    [([OVER_VOLTAGE], "59-GEN"), (OVERSPEED, "12-GEN"), ([(ch.GENERATOR_MV, 13_700)], None)],
)
@pytest.mark.parametrize("state", [mo.RUNNING, mo.CLOSING, mo.MAINTENANCE])
def test_the_dump_load_helps_the_clamp_at_over_voltage_and_at_overspeed(state, changes, alone):
    """Each by itself; by neither it stays off."""
    bench = bench_in(state)
    bench.run(60, lamps(12_000, 45))
    bench.run(12, changes)
    acting = bench.scan.protection.acting
    assert [name for name in ("59-GEN", "12-GEN") if acting[el.number(name) - 1]] == (
        [alone] if alone else [])  # fmt: skip
    assert bench.board.outputs[ch.OUT_DUMP] == int(alone is not None)
    assert bench.board.outputs[ch.OUT_LAMPS_OFF] == 0


def test_the_dump_load_goes_off_when_the_voltage_is_back():
    bench = bench_in(mo.RUNNING)
    bench.run(60, lamps(12_000, 45))
    bench.run(5, [OVER_VOLTAGE])
    assert bench.board.outputs[ch.OUT_DUMP] == 1
    bench.run(20, [(ch.GENERATOR_MV, 9000)])
    assert bench.board.outputs[ch.OUT_DUMP] == 0


def test_what_was_told_is_what_is_judged_in_the_next_scan():
    """A pump told to be off that draws current is a welded switch; one told to be on is none."""
    bench = bench_in(mo.TRIAL)
    assert bench.scan.derived.pump_on == 1
    until(bench, mo.STANDSTILL)
    assert bench.scan.derived.pump_on == 0
    bench = bench_in(mo.RUNNING)
    bench.run(60, lamps(12_000, 45))
    assert bench.scan.derived.commanded == bench.scan.sequence.valve_commanded == valve(bench) > 0
