"""Drain-down: the valve that opens wholly, and the lamps that must not see its jet."""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from tests.keeper.scripted import NUMBERS
from tests.keeper.ways import (
    NIGHT,
    OVER_VOLTAGE,
    STOP_PRESSED,
    bench_in,
    drain,
    end_orders,
    maintain,
    until,
)

NO_FEEDBACK = dict(NUMBERS)["fitted"] & ~(1 << ch.VALVE_PERMILLE)
RATE = 25  # permille a scan: valve_rate_permille_s
TRAVEL = 60  # scans: valve_travel_ms


def lamps_and_dump(bench):
    return bench.board.outputs[ch.OUT_LAMPS_OFF], bench.board.outputs[ch.OUT_DUMP]


def test_a_drain_opens_the_valve_wholly_and_no_faster_than_is_safe():
    bench = bench_in(mo.STANDSTILL)
    drain(bench)
    told = []
    for _ in range(50):
        bench.run()
        told.append(bench.board.outputs[ch.OUT_VALVE])
    assert told == [min(1000, RATE * (scan + 1)) for scan in range(50)]
    end_orders(bench)
    told = []
    for _ in range(50):
        bench.run()
        told.append(bench.board.outputs[ch.OUT_VALVE])
    assert told == [max(0, 1000 - RATE * (scan + 1)) for scan in range(50)]


@pytest.mark.parametrize("end", [end_orders, maintain, [STOP_PRESSED], [OVER_VOLTAGE]])
def test_the_lamps_stay_off_and_the_dump_load_on_until_the_valve_is_shut(end):
    bench = bench_in(mo.DRAINING)
    assert lamps_and_dump(bench) == (1, 1)
    bench.run(60)
    assert lamps_and_dump(bench) == (1, 1)
    until(bench, mo.CLOSING, end)
    seen = []
    while bench.state == mo.CLOSING:
        assert lamps_and_dump(bench) == (1, 1)
        seen.append(bench.board.outputs[ch.OUT_VALVE])
        bench.run()
    assert seen[0] > 900
    assert seen[-1] == 0
    assert bench.board.outputs[ch.OUT_LAMPS_OFF] == 0


@pytest.mark.parametrize("position", [1000, 300, 16, ch.INVALID])
def test_lamps_stay_off_while_the_valve_does_not_report_shut_whatever_it_was_told(position):
    bench = bench_in(mo.DRAINING)
    bench.run(60)
    end_orders(bench)
    bench.run(200, [(ch.VALVE_PERMILLE, position)])
    assert bench.board.outputs[ch.OUT_VALVE] == 0
    assert bench.state == mo.CLOSING
    assert lamps_and_dump(bench) == (1, 1)
    bench.run(2, [(ch.VALVE_PERMILLE, 15)])
    assert bench.state == mo.STANDSTILL
    assert lamps_and_dump(bench) == (0, 0)


def test_maintenance_with_a_valve_that_stays_open_gives_no_lamp_to_a_full_jet():
    bench = bench_in(mo.DRAINING)
    bench.run(60)
    maintain(bench)
    until(bench, mo.MAINTENANCE, [(ch.VALVE_PERMILLE, 300)], most=200)
    bench.run(200)
    assert lamps_and_dump(bench) == (1, 1)
    bench.run(2, [(ch.VALVE_PERMILLE, 15)])
    assert bench.board.outputs == [0] * len(ch.OUTPUTS)


def test_without_a_position_the_lamps_stay_off_for_the_valve_s_time_to_travel():
    bench = bench_in(mo.DRAINING, fitted=NO_FEEDBACK)
    bench.run(60)
    end_orders(bench)
    while bench.board.outputs[ch.OUT_VALVE]:
        bench.run()
    for _ in range(TRAVEL - 1):
        bench.run()
        assert lamps_and_dump(bench) == (1, 1)
    assert until(bench, mo.STANDSTILL) <= 2
    assert lamps_and_dump(bench) == (0, 0)


def test_light_after_a_drain_comes_on_the_lamps():
    bench = bench_in(mo.DRAINING)
    bench.run(60, [NIGHT])
    end_orders(bench)
    until(bench, mo.RUNNING)
    assert lamps_and_dump(bench) == (0, 0)
    bench.run(20)
    assert bench.board.outputs[ch.OUT_VALVE] > 0
    assert lamps_and_dump(bench) == (0, 0)
