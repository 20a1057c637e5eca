"""The twin's instruments are read as the board's drivers read them."""

import pytest

from forebay.twin.faults import CUT_S
from forebay.twin.plant import Plant
from forebay.twin.sensors import Sensors
from keeper import channels as ch
from keeper import modes
from keeper.instruments.monitors import Monitors
from tests.campaign.coarse import CoarseTwin
from tests.campaign.scene import demo, steady
from tests.twin.rigs import PUMPING, run_until, twin

SCANS = 12
SLOW_PLACES = {ch.PANEL_MA: ch.PANEL_MV, ch.LAMP_MA: ch.LAMP_MA, ch.SUPPLY_MA: ch.SUPPLY_MV}
VOLTS_A_SCAN = 0.5        # far beyond the noise of any instrument


class Asked:
    """A monitor that only keeps in which scans it was asked."""

    def __init__(self, place, is_quick, clock):
        self.place = place
        self.is_quick = is_quick
        self.clock = clock
        self.missed = 0
        self.scans = []

    def look_after(self):
        return True

    def pass_scan(self):
        pass

    def publish(self, values):
        pass

    def sample(self):
        self.scans.append(self.clock.scan)
        return True


class Clock:
    scan = 0

    def ticks_us(self):
        return 0


def asked_by_the_driver():
    """Returns {place of the current: scans in which the board's driver reads that monitor}."""
    clock = Clock()
    monitors = [Asked(mA_place, is_quick, clock) for mA_place, _, is_quick in ch.MONITORS]
    driver = Monitors(None, monitors, clock)
    for clock.scan in range(SCANS):
        driver.read(None)
    return {one.place: one.scans for one in monitors}


def seen_in_the_twin(periods=1):
    """Returns {place of the current: scans in which its reading follows a plant that moves}."""
    rig, _ = demo()
    plant = Plant(rig, steady(0.0))
    sensors = Sensors(rig, plant, 1)
    sensors.polls = periods
    values = [0] * ch.READ
    seen = {mA_place: [] for mA_place, _, _ in ch.MONITORS}
    places = {ch.PUMP_MA: ch.PUMP_MA, ch.GENERATOR_MA: ch.GENERATOR_MV, **SLOW_PLACES}
    sensors.hold(values)
    for scan in range(SCANS):
        before = list(values)
        volts = 1.0 + VOLTS_A_SCAN * scan
        plant.up.panel_V = plant.down.generator_V = plant.battery.volts = volts
        plant.up.pump_A, plant.down.lamp_A = 0.1 * volts, 0.01 * volts
        sensors.read(values)
        for mA_place, place in places.items():
            if values[place] != before[place]:
                seen[mA_place].append(scan)
    return seen


def test_each_monitor_is_read_in_the_scans_in_which_the_driver_reads_it():
    assert seen_in_the_twin() == asked_by_the_driver()


def test_a_step_that_stands_for_many_scans_reads_them_all():
    assert set(map(tuple, seen_in_the_twin(3).values())) == {tuple(range(SCANS))}
    rig, settings = demo()
    coarse = CoarseTwin(rig, settings, steady(0.0))
    assert coarse.sensors.polls == len(SLOW_PLACES)
    coarse.close()


def test_a_reading_beyond_the_range_says_so_till_the_next_turn():
    rig, _ = demo()
    plant = Plant(rig, steady(0.0))
    sensors = Sensors(rig, plant, 1)
    values = [0] * ch.READ
    plant.up.panel_A = 100.0
    for _ in range(len(SLOW_PLACES)):
        sensors.read(values)
        assert values[ch.PANEL_MA] == ch.INVALID + ch.CLIPPED
        values[ch.PANEL_MA] = ch.INVALID    # the scan takes the reason out
    plant.up.panel_A = 1.0
    sensors.read(values)
    assert values[ch.PANEL_MA] == pytest.approx(1000, rel=0.1)


def test_after_a_start_a_monitor_has_no_answer_before_its_turn(tmp_path):
    one = twin(tmp_path, steady(700.0), {"upper.start_volume_m3": 0.5})
    run_until(one, PUMPING, 200)
    one.cut()
    run_until(one, lambda one: one.powered and one.keeper.scans == 1, CUT_S + 1)
    values = one.keeper.values
    assert values[ch.PANEL_MV] > 1000
    assert values[ch.LAMP_MA] == values[ch.SUPPLY_MV] == ch.INVALID
    one.run(len(SLOW_PLACES) - 1)
    assert ch.INVALID not in (values[ch.LAMP_MA], values[ch.SUPPLY_MV])
    assert one.keeper.state == modes.CLOSING   # it is still pressed shut
