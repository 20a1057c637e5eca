"""What the wiring page says a meter shows is what the simulated rig's board reads there."""

import math
import re

import pytest

from forebay.docs.sheets import circuits
from forebay.hardware.netlist import reached
from forebay.hardware.readings import MODES
from keeper import channels as ch
from tests.hardware.tables import OTHERS, build, named
from tests.twin.rigs import PUMPING, RUNNING, run_until, steady, twin

PLACE = {row[ch.CH_NAME]: place for place, row in enumerate(ch.CHANNELS)}
MEASURED = [point for point in build().points if point.channel]
SETTLED_SCANS = 600
NOISE_V = 0.02  # one sigma of a scan, demo/hillside.toml


def readings(one, scans):
    """Mean of every measured voltage [V] over some scans."""
    sums = dict.fromkeys((point.channel for point in MEASURED), 0.0)
    for _ in range(scans):
        one.step()
        for name in sums:
            sums[name] += one.keeper.values[PLACE[name]] / 1000
    return {name: total / scans for name, total in sums.items()}


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """Voltages [V] by mode: before the pump's first start, pumping, and at night."""
    day = twin(tmp_path_factory.mktemp("day"), steady(1000.0, 45.0))
    for _ in ch.MONITORS:  # by then the turn of each has come
        day.step()
    found = {"standstill": readings(day, 100)}
    run_until(day, PUMPING, 600)
    readings(day, SETTLED_SCANS)
    found["pump"] = readings(day, 100)
    night = twin(tmp_path_factory.mktemp("night"), steady(0.0, 10.0),
                 {"upper.start_volume_m3": 0.5})
    run_until(night, RUNNING, 3600)
    readings(night, SETTLED_SCANS)
    found["turbine"] = readings(night, 100)
    return found


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("point", MEASURED, ids=lambda point: point.id)
def test_the_simulated_rig_reads_within_the_window(shown, point, mode):
    low, high = point.windows[mode]

    # At rest the mean of the noise may lie a hair below 0 V.
    assert low - NOISE_V <= shown[mode][point.channel] <= high


def test_the_three_voltages_that_the_board_measures_have_a_test_point():
    volts = {row[ch.CH_NAME] for row in ch.CHANNELS if row[ch.CH_UNIT] == "mV"}

    assert {point.channel for point in MEASURED} == volts


@pytest.mark.parametrize("demo", ["hillside", "orchard"])
def test_what_is_live_with_the_isolator_open_is_measured_against_its_own_minus(demo):
    netlist = build(demo).netlist
    ways = netlist.ways(without=frozenset({"S1"}))
    panel = netlist["PV1"].pins
    live = [point for point in build(demo).points if point.net in reached(panel["plus"], ways)]

    assert [point.id for point in live] == ["TP1"]
    # Against 0 V a meter would float: that pole is open too.
    assert all(point.against in reached(panel["minus"], ways) for point in live)
    assert "TP0" not in next(line for line in circuits.page(build(demo)).splitlines()
                             if line.startswith("| TP1 |"))


@pytest.mark.parametrize("demo", ["hillside", "orchard"])
def test_each_probe_has_a_place_that_is_on_its_net(demo):
    one = build(demo)
    terminals = {core.terminal: core.net for cable in one.cables for core in cable.cores
                 if core.terminal}
    rows = [[cell.strip() for cell in line.strip("| ").split(" | ")]
            for line in circuits.page(one).splitlines() if line.startswith("| TP")]

    assert [row[0] for row in rows] == ["TP0", *(point.id for point in one.points)]
    for _, net, red, _ in rows[1:]:
        for place in red.split(", ") if red.startswith("X") else ():
            assert terminals[place] == net
        if not red.startswith("X"):
            part, pin = red.partition(", at ")[0].split()
            assert one.netlist[part].pins[pin] == net


@pytest.mark.parametrize("name", ["hillside", "orchard", *OTHERS])
def test_what_is_wrong_at_a_point_is_told_of_parts_and_points_that_the_rig_has(name):
    one = named(name)
    there = {part.device for part in one.netlist} | {"TP0"} | set(one.netlist.parts)
    there |= {point.id for point in (*one.points, *one.away)} | set(one.netlist.nets)
    for point in (*one.points, *one.away):
        assert set(re.findall(r"\b[A-Z]{1,2}\d+\b", point.otherwise)) <= there, point.id


def test_the_small_rigs_points_tell_of_no_shunt_and_no_monitor_of_its_panel():
    words = {point.id: point.otherwise for point in build("orchard").points}

    for name in ("TP3", "TP8", "TP13"):
        assert "shunt" not in words[name]
        assert "monitor" not in words[name]
    assert "frost thermostat" in words["TP40"]  # its cells are lithium
    assert "frost thermostat" not in {point.id: point.otherwise
                                      for point in named("lead").points}["TP40"]


@pytest.mark.parametrize("name", ["hillside", "orchard", *OTHERS])
def test_what_a_point_expects_at_rest_goes_with_the_state_that_the_page_names(name):
    windows = {point.net: point.windows["standstill"] for point in named(name).points}

    # Sun, all off, tanks between their floats: every float's contact is closed.
    for net in ("LSH-UP", "LSL-UP", "LSL-LO", "LSH-LO"):
        assert windows.get(net, (0.0, 0.3)) == (0.0, 0.3)
    # Behind D7 from where the panel's node begins, less what a Schottky diode drops.
    assert windows["panel plus"][0] - windows["charger feed"][0] == pytest.approx(0.6)
    assert windows["charger feed"][1] == windows["panel plus"][1]


def test_the_long_leads_loss_is_that_of_the_cables_page():
    lost_V = next(one.lost_V for one in build().cables
                  if (one.place, one.group) == ("deck", "power"))

    # By hand: 48 m of 1.5 mm2 at 50 degC, 0.0192 ohm mm2/m: 0.61 ohm, times 1.41 A.
    assert lost_V == pytest.approx(0.87, abs=0.01)
    assert f"{lost_V:.2g} V less than at TP3" in next(
        point.otherwise for point in build().points if point.id == "TP4")


def test_behind_an_open_contact_a_meter_soon_reads_nothing():
    netlist = build().netlist
    tau_s = netlist["R9"].ohm * netlist["C2"].farad

    assert set(netlist["R9"].pins.values()) == set(netlist["C2"].pins.values())
    # The sheets say a second behind a contact, a minute behind the isolator, and take up to
    # half a volt for none (points.toml).
    full_V = build().figures["panel_open_cold_V"]
    assert full_V * math.exp(-1.0 / tau_s) < 0.5
    both_s = netlist["R9"].ohm * (netlist["C1"].farad + netlist["C2"].farad)
    assert full_V * math.exp(-60.0 / both_s) < 0.5
    # 5 A of range, 0.1 % of it one sigma of noise (demo/hillside.toml).
    assert build().figures["panel_open_cold_V"] / netlist["R9"].ohm < 0.005
