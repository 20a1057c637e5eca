"""The elements that judge derived values, from the scan on."""

import pytest

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.protection import elements as el
from tests.keeper.scripted import Bench
from tests.keeper.ways import NIGHT, SUN, WATER, bench_in, stays, until


def acted(bench):
    return [el.ELEMENTS[event[1] - 1][el.E_ID] for event in bench.events if event[0] == ev.ACTED]


def test_a_pump_that_runs_dry_trips_in_sun():
    bench = bench_in(mo.PUMPING)
    bench.run(60, [(ch.PUMP_MA, 120)])
    assert bench.state == mo.STANDSTILL
    assert acted(bench)[0] == "37-PMP"


def test_no_water_in_a_strong_trial_is_a_trip_and_in_a_weak_one_is_none():
    bench = bench_in(mo.STANDSTILL, flow_sure_mW=7000)
    until(bench, mo.TRIAL, [SUN])
    bench.run(50)
    assert acted(bench) == ["48-PMP"]
    bench = bench_in(mo.STANDSTILL, flow_sure_mW=7000)
    until(bench, mo.TRIAL, [SUN])
    bench.run(50, [(ch.PANEL_MV, 10000)])
    assert acted(bench) == []


def test_flow_that_ends_while_the_pump_works_is_a_trip():
    bench = bench_in(mo.PUMPING, flow_sure_mW=7000, trial_s=60)
    bench.run(80, [(ch.PULSES_UP, 0)])
    assert acted(bench) == ["80-PMP"]


def test_a_welded_switch_locks_out_and_only_the_rig_resets_it():
    bench = bench_in(mo.STANDSTILL)
    bench.run(50, [(ch.PUMP_MA, 500)])
    assert acted(bench) == ["3-SW"]
    assert bench.scan.sequence.lockout.sides == el.BOTH
    assert bench.scan.sequence.lockout.only_at_rig()


def test_a_valve_that_opens_under_the_running_pump_stops_it():
    bench = bench_in(mo.PUMPING)
    bench.run(30, [(ch.VALVE_PERMILLE, 100)])
    assert bench.state == mo.STANDSTILL
    assert acted(bench)[0] == "33-VLV"


def test_no_flow_through_an_open_valve_trips_the_turbine():
    bench = bench_in(mo.RUNNING, valve_sure_permille=400)
    bench.run(100)
    assert acted(bench)[0] == "80-VLV"


def test_the_level_stops_the_pump_where_the_float_failed():
    bench = bench_in(mo.PUMPING)
    bench.run(1200, [(ch.LEVEL_MM, 990), WATER])
    assert acted(bench)[0] == "71H-LVL"
    assert bench.state == mo.STANDSTILL


def test_a_low_supply_stops_both_and_lets_go_when_it_is_charged():
    bench = bench_in(mo.PUMPING)
    bench.run(30, [(ch.SUPPLY_MV, 11000)])
    assert bench.state == mo.STANDSTILL
    until(bench, mo.TRIAL, [(ch.SUPPLY_MV, 12500)])


def test_cold_pipes_bar_a_new_start_and_let_a_run_go_on():
    bench = bench_in(mo.PUMPING)
    stays(bench, mo.PUMPING, 1000, [(ch.WATER_MDEGC, 1000), WATER])
    assert bench.scan.protection.inhibit == el.BOTH
    until(bench, mo.STANDSTILL, [(ch.C_71H_UP, 0)])
    stays(bench, mo.STANDSTILL, 300)
    stays(bench, mo.STANDSTILL, 1000, [(ch.C_71H_UP, 1)])


def test_over_voltage_brings_the_dump_load():
    bench = bench_in(mo.RUNNING)
    bench.run(100)
    bench.run(5, [(ch.GENERATOR_MV, 15000)])
    assert bench.board.outputs[ch.OUT_DUMP] == 1
    bench.run(50, [(ch.GENERATOR_MV, 0)])
    assert bench.board.outputs[ch.OUT_DUMP] == 0


@pytest.mark.parametrize("contact", [ch.C_STOP, ch.C_71H_LO])
def test_contacts_that_stop_the_light(contact):
    bench = Bench()
    until(bench, mo.RUNNING, [NIGHT])
    until(bench, mo.CLOSING, [(contact, 0)], most=10)


def test_a_level_sensor_that_does_not_exist_is_not_judged():
    bench = Bench([("fitted", ch.ALL_FITTED & ~(1 << ch.LEVEL_MM))])
    bench.run(500, [(ch.LEVEL_MM, ch.INVALID)])
    assert acted(bench) == []
    assert bench.scan.values[ch.LEVEL_MM] == ch.INVALID
