"""Every rating of the parts against the worst that the demo rig makes of it."""

import itertools
import math

import pytest

from forebay.docs.sheets import parts as sheet
from forebay.docs.sheets import strokes, worst
from forebay.hardware import duty, sizing
from forebay.twin.downhill import Downhill
from keeper.boards import wiring
from keeper.physics import electrical, water
from tests.hardware.tables import PARTS, PINS, build, figures, part, rig

STRESSES = duty.stresses(build().netlist, build().values, build().figures)
# IEC 60063, E24: the preferred values of resistors.
E24 = {10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75,
       82, 91}


@pytest.mark.parametrize("one", STRESSES, ids=lambda one: f"{one.who}: {one.what}")
def test_every_rating_keeps_its_least_margin(one):
    assert one.margin >= one.least


def test_a_rating_names_a_figure_of_its_own_unit():
    for row in PARTS["part"]:
        for rating in row.get("rating", ()):
            assert rating["worst"].endswith("_" + rating["unit"].replace("/", "_"))


def test_every_part_of_the_circuit_is_judged_or_has_nothing_to_stand():
    # Drivers, capacitors and all: what has neither row nor rating is a wire or a sized part.
    bare = {part.id for part in build().netlist if not part.row and not part.rated}

    assert bare == set()
    assert len(STRESSES) > len(build().netlist.parts)


def test_a_rating_that_is_too_small_is_found():
    rating = {"unit": "W", "least": 0.5}

    assert worst.margin(rating, 1.0, 2.0) == -0.5
    assert worst.margin({"unit": "degC"}, 60.0, 58.0) == 2.0
    assert worst.margin({"unit": "degC", "below": True}, 70.0, 105.0) == 35.0


def test_the_cold_panel_has_the_voltage_that_its_coefficient_gives():
    # By hand: 45 K colder at -0.30 %/K on 29 V, and 125 % of 4.5 A.
    assert figures()["panel_open_cold_V"] == pytest.approx(29 * (1 + 0.003 * 45))
    assert figures()["panel_short_A"] == pytest.approx(5.625)


def test_the_fuse_breaks_what_the_battery_gives_into_a_short():
    # By hand: 14.6 V charged full over 0.05 ohm of its own.
    short_A = figures()["battery_short_A"]

    assert rig()["supply.resistance_ohm"] == 0.05
    assert short_A == pytest.approx(292.0)
    # At 2 mohm it gives 7.3 kA: a link for 1 kA would not do.
    stiff = worst.figures({**rig(), "supply.resistance_ohm": 0.002}, PARTS)["battery_short_A"]
    [rating] = [one for one in part("fuse F1")["rating"] if one["worst"] == "battery_short_A"]
    assert worst.rated(rating, rig(), PARTS, short_A) == 1000.0
    assert worst.rated(rating, rig(), PARTS, stiff) == 10000.0


def running_twin(lamps_ohm=None, clamp=True):
    """The twin's downhill side, its lamps gone (or a plain resistor), run up for 100 s."""
    values = dict(rig())
    if lamps_ohm is not None:
        values |= {"lamps.threshold_voltage_V": 0.0, "lamps.resistance_ohm": lamps_ohm}
    if not clamp:
        values["generator.clamp_voltage_V"] = 1e4
    down = Downhill(values, water.density_kg_m3(4.0), water.kinematic_viscosity_m2_s(4.0), 9.8)
    down.lamps_connected = lamps_ohm is not None
    down.commanded = 1.0
    for _ in range(10000):
        down.step(0.01, 10.1, True)
    return down


def test_the_runaway_is_what_the_twin_runs_up_to():
    # The twin has the losses of pipe and valve that the figures leave out: no more than 5 %.
    down = running_twin()
    watts = down.generator_V * down.clamp_A

    assert watts <= figures()["clamp_runaway_W"] <= 1.05 * watts
    assert down.generator_V == pytest.approx(figures()["generator_clamped_V"], rel=0.01)
    assert running_twin(clamp=False).generator_V == pytest.approx(
        figures()["generator_unclamped_V"], rel=0.03
    )


def test_the_dump_alone_holds_the_generator_below_what_the_lamps_stand():
    down = running_twin(lamps_ohm=rig()["generator.dump_resistance_ohm"])

    assert down.generator_V < 15.0
    assert down.lamp_A * down.generator_V == pytest.approx(figures()["dump_W"], rel=0.05)


def test_even_a_wheel_without_any_loss_cannot_overload_the_clamp():
    # By hand: jet of 2.1 mm under 10.1 m, 0.97 sqrt(2 g h) = 13.65 m/s, 47.3 mL/s;
    # rho g Q h = 4.68 W, all the power that there is.
    flow = math.pi / 4 * 0.0021**2 * 0.97 * math.sqrt(2 * 9.8 * 10.1)

    assert figures()["water_W"] == pytest.approx(1000 * 9.8 * flow * 10.1, rel=2e-3)
    assert figures()["water_W"] < rig()["generator.clamp_power_W"]


def test_the_thermostat_opens_between_the_firmwares_trip_and_the_windings_limit():
    opens = [r["rated"] for r in part("thermostat of the motor")["rating"] if r["unit"] == "degC"]

    assert rig()["motor.trip_temperature_degC"] + 3.0 < min(opens)
    assert max(opens) < 105.0  # insulation class 105, IEC 60085, from memory


def test_the_overflow_carries_the_pumps_greatest_flow():
    # Orifice of 40 mm, 0.6, head 40 mm over its middle: 0.6 A sqrt(2 g h).
    by_hand = 0.6 * math.pi / 4 * 0.04**2 * math.sqrt(2 * 9.8 * 0.04) * 1e6

    rating = part("overflow pipe")["rating"][0]
    assert worst.rated(rating, rig(), PARTS, 1.0) == pytest.approx(by_hand, rel=2e-3)
    assert by_hand > 2 * figures()["pump_most_mL_s"]
    assert figures()["pump_most_mL_s"] > rig()["pump.rated_flow_m3_s"] * 1e6


def test_the_rising_main_ends_in_air_two_bores_above_the_overflow():
    # ASME A112.1.2, from memory: an air gap of twice the bore. 10.06 - (9.0 + 1.0) m.
    assert worst.air_gap_m(rig()) == pytest.approx(0.06)
    assert worst.air_gap_m(rig()) >= 2 * rig()["rising_main.diameter_m"]


@pytest.mark.parametrize("shunt", build().netlist.of_kind("shunt"), ids=lambda one: one.id)
def test_a_monitor_clips_just_above_its_range_and_its_shunt_stands_the_worst(shunt):
    found = sheet.monitor(shunt, rig(), figures())
    milliohm = found["ohm"] * 1e3

    # By hand: 81.92 mV over the shunt.
    assert found["clip_A"] == pytest.approx(81.92 / milliohm)
    assert found["range_A"] < found["clip_A"] < 1.1 * found["range_A"]
    assert found["worst_W"] <= found["rated_W"] / 2
    assert round(milliohm / 10 ** math.floor(math.log10(milliohm)) * 10) in E24


def test_the_monitors_reach_what_flows_in_service_and_have_addresses_of_their_own():
    found = [sheet.monitor(one, rig(), figures()) for one in build().netlist.of_kind("shunt")]
    ranges = {one["name"]: one["clip_A"] for one in found}
    addresses = [one["address"] for one in found]

    # The usual 100 mohm would clip below what the pump draws in full sun.
    assert electrical.shunt_clip_A(0.08192, 0.1) < figures()["pump_run_A"] < ranges["pump"] / 2
    assert figures()["lamp_A"] < ranges["lamp"]
    assert figures()["generator_A"] < ranges["generator"]
    assert figures()["supply_A"] < ranges["supply"]
    assert figures()["panel_short_A"] < ranges["panel"]
    # Two address pins of four levels each: 0x40 to 0x4f.
    assert len(set(addresses)) == 5
    assert all(0x40 <= address <= 0x4F for address in addresses)


@pytest.mark.parametrize("cable", build().cables, ids=lambda one: f"{one.place} {one.group}")
def test_a_cable_loses_no_more_than_it_may(cable):
    # Apart from keeper.physics: resistivity 1/58 ohm mm2/m at 20 degC (IEC 60028), 0.393 %/K.
    ohm = 2 * cable.length_m / 58 / cable.section_mm2 * (1 + 0.00393 * 30)

    assert cable.lost_V == pytest.approx(cable.carries_A * ohm, rel=1e-3)
    assert cable.holds
    assert cable.lost_V <= cable.allowed_V


def test_the_battery_blows_the_fuse_and_the_panel_never_could():
    fuse = build().netlist["F1"].rated["A"]
    # IEC 60269-6, from memory: blows within an hour at 1.45 times its rating. A lead
    # of 0.5 m and 1.5 mm2, both ways, beside the battery's own resistance.
    lead_ohm = electrical.conductor_ohm(1.0, 1.5e-6, 50.0)
    short_A = rig()["supply.voltage_V"] / (rig()["supply.resistance_ohm"] + lead_ohm)
    # The smallest fuse that a panel's lead could have: 1.25 times its worst current.
    panel_fuse = 1.25 * figures()["panel_short_A"]

    assert short_A > 10 * fuse
    assert not electrical.panel_blows_fuse(panel_fuse, figures()["panel_short_A"], 1.45)


def test_the_loop_tells_its_four_states_apart_with_all_tolerances():
    windows = PARTS["loop"]["window"]
    edges = [edge for window in windows for edge in (window["low_V"], window["high_V"])]

    assert [window["name"] for window in windows] == ["shorted", "hanging", "lifted", "cut"]
    assert edges == sorted(edges)
    for window in windows:
        low, high = sheet.loop_V(PARTS["loop"], window["name"])
        assert window["low_V"] <= low <= high <= window["high_V"]


def test_the_limits_that_the_board_knows_lie_between_the_windows():
    limits = [wiring.defaults()[wiring.index(f"loop_{name}_permille")]
              for name in ("short", "open", "cut")]
    windows = PARTS["loop"]["window"]

    for limit, (below, above) in zip(limits, itertools.pairwise(windows), strict=True):
        volts = int(limit) / 1000 * PARTS["loop"]["rail_V"]
        assert below["high_V"] < volts < above["low_V"]


def test_the_boards_defaults_know_these_monitors_and_the_level_sensor():
    # The shunt of the pump apart: its default is for a smaller pump than the demo's range.
    known = dict(zip(wiring.NAMES, wiring.defaults(), strict=True))

    for one in build().netlist.of_kind("shunt"):
        found = sheet.monitor(one, rig(), figures())
        assert known[f"{found['name']}_monitor"] == found["address"]
        if found["name"] != "pump":
            assert known[f"{found['name']}_shunt_uohm"] == pytest.approx(found["ohm"] * 1e6)
    # 0.5 to 4.5 V over 2 m, halved.
    assert (known["level_zero_mV"], known["level_span_mV"], known["level_span_mm"]) == (
        250, 2000, 2000)


def test_the_loops_voltages_by_hand():
    # 3.3 V over 4.7 kohm and 2.2 kohm; the same with 10 kohm more.
    exact = {**PARTS["loop"], "tolerance_frac": 0.0, "offset_V": 0.0, "cable_ohm": 0.0}

    assert sheet.loop_V(exact, "hanging")[0] == pytest.approx(3.3 * 2.2 / 6.9)
    assert sheet.loop_V(exact, "lifted")[0] == pytest.approx(3.3 * 12.2 / 16.9)


def test_resistors_are_ones_that_are_made():
    loop = PARTS["loop"]
    ohms = [loop["pull_up"], loop["in_line"], loop["across"]]

    assert [ohm for ohm in ohms if round(ohm / 10 ** (len(str(int(ohm))) - 2)) not in E24] == []


def test_a_closed_contact_reads_low_and_an_open_one_high():
    # The terminal is at 0 V; 1 kohm to the pin against the chip's strongest pull-up.
    closed_V = 3.3 * 1.0 / (1.0 + 50.0)
    # A joint so wet that it leaks like 10 kohm still reads open (2.0 V, JESD8C).
    open_V = 3.3 * 10.0 / (10.0 + 4.7)

    assert PINS["chip"]["weak_pull_lowest"] == "50 kohm"
    assert closed_V < worst.LOGIC_LOW_V
    assert open_V > 2.0


def test_a_full_tank_is_several_times_what_a_deck_is_made_for():
    # By hand: 1060 kg on 1.0 m2.
    assert sheet.load_kPa(PARTS, rig()) == pytest.approx(1060 * 9.81 / 1000)
    assert sheet.load_kPa(PARTS, rig()) > 4 * 1.9  # 40 lb/ft2


def test_nothing_of_the_rig_reaches_a_dangerous_voltage():
    # IEC 60364-4-41, from memory: bare parts up to 60 V direct current in the dry,
    # 30 V in the wet. A cold panel passes 30 V: its terminals are insulated.
    volts = {name: value for name, value in figures().items() if name.endswith("_V")}

    assert max(volts.values()) < 60.0
    assert volts["panel_open_cold_V"] > 30.0


def test_the_rig_s_penstock_is_rated_as_the_pipe_in_the_list_of_parts():
    pipe = next(part for part in PARTS["part"] if part["name"] == "penstock and rising main")
    rated_bar = worst.rated(pipe["rating"][0], rig(), PARTS, 1.0)

    assert pipe["rating"][0]["worst"] == "penstock_bar"
    assert rig()["penstock.pressure_rating_Pa"] == rated_bar * 1e5


def test_only_a_capacitor_keeps_a_monitor_from_a_stroke_and_a_suppressor_cannot():
    found = {one.part.id: one for one in strokes.held(build())}
    bears_V = PARTS["assumed"]["monitor_absolute_V"]
    page = sheet.page(build())

    # Charge over farads: 2 mC into 470 uF and into 10 uF.
    assert found["V1"].rise_V == pytest.approx(2e-3 / 470e-6, rel=1e-6)
    assert found["V2"].rise_V == pytest.approx(2e-3 / 10e-6, rel=1e-6)
    assert found["V1"].held_V < bears_V
    assert found["V2"].held_V == found["V2"].part.rated["clamps"] > bears_V
    # Any suppressor that stands the cold panel off clamps above what a monitor bears.
    assert figures()["panel_open_cold_V"] * sizing.CLAMP_RATIO > bears_V
    assert "U21 kept" in page
    assert "U22 NOT kept" in page


@pytest.mark.parametrize("name", ["Q1", "D1", "D4", "C1", "C2", "D7"])
def test_what_stands_behind_the_panels_suppressors_stands_their_clamping(name):
    [clamps_V] = {one.part.rated["clamps"] for one in strokes.held(build())
                  if one.part.sized == "panel_tvs"}
    rated_V = [one.rated for one in STRESSES if one.unit == "V"
               and one.who in (name, build().netlist[name].row)]

    assert min(rated_V) >= clamps_V


def test_the_clamp_begins_where_its_divider_says():
    # 2.495 V x (1 + 75 / 15), by hand; the reference's volts from memory.
    assert "begins at 14.97 V" in " ".join(sheet.page(build()).split())
