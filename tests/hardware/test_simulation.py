"""Circuits with dynamics, simulated from the same netlist: peaks beside ratings, windows, filters.

By ngspice (Debian's package), driven by spicelib: neither is ours. Models of parts are in
spice.py, and are simple: what a test shows is the circuit, not a silicon.
"""

import functools
import os
import pathlib
import shutil

import numpy as np
import pytest

from forebay.docs.sheets import worst
from forebay.hardware.build import Build
from forebay.rig import load, load_text
from tests.hardware.spice import BRIDGE_V, MOTOR_H, Deck
from tests.hardware.tables import PARTS, build

MONITOR_MOST_V = 36.0   # bus and sense inputs of a monitor; data sheets, from memory
PUMP = ("panel", "panel's monitor", "pump", "pump's monitor")
GENERATOR = ("generator", "generator's monitor", "clamp", "lamps", "lamps' monitor")
LOADED_V = 1.7          # by which the panel's knee and the leads are lower while the pump runs
LOW_V, HIGH_V = 0.8, 2.0  # of an input of 3.3 V logic (JESD8C)


@pytest.fixture(autouse=True)
def simulator():
    """On a machine without it these tests say 'not run'; where all must run, they fail."""
    if shutil.which("ngspice") is None:
        if os.environ.get("CI"):
            raise FileNotFoundError("ngspice: apt install ngspice")
        pytest.skip("not run: ngspice is not installed")


def with_panel(deck):
    """Put the panel behind its leads: its short-circuit current and a diode that opens as it does.

    15 thermal voltages from short circuit to open: the knee of a silicon panel, a guess.
    """
    figures, panel = deck.build.figures, deck.build.netlist["PV1"]
    plus, minus = deck.pin(panel, "plus"), deck.pin(panel, "minus")
    short_A, open_V = figures["panel_short_A"], figures["panel_open_cold_V"]
    deck.add("I", "pv", minus, plus, f"{short_A:g}")
    deck.lines.append(f".model cells D(Is={short_A / np.expm1(15):g} N={open_V / 15 / 0.02585:g})")
    deck.add("D", "pv", plus, minus, "cells")


def with_motor(deck, stalled):
    """Put the motor in: winding, inductance, and what its turning induces."""
    values, figures, motor = deck.build.values, deck.build.figures, deck.build.netlist["M1"]
    ohm = values["motor.resistance_ohm"]
    induced_V = 0.0 if stalled else (
        figures["panel_open_cold_V"] - LOADED_V - ohm * figures["pump_run_A"])
    one, other = deck.pin(motor, "plus"), deck.pin(motor, "minus")
    deck.add("R", "motor", one, "mr", f"{ohm:g}")
    deck.add("L", "motor", "mr", "ml", MOTOR_H)
    deck.add("V", "induced", "ml", other, f"{induced_V:g}")


def pump_off(one, folder, device, stalled):
    """Return the waves of a pump whose current a device breaks after a millisecond."""
    deck = Deck(one, PUMP, device)
    with_panel(deck)
    with_motor(deck, stalled)
    return deck.run(folder, 4e-3, 1e-6)


@pytest.mark.parametrize("stalled", [False, True], ids=["running", "stalled"])
@pytest.mark.parametrize("device", ["Q1", "B2", "S2", "B1", "S1"])
def test_no_monitor_meets_more_than_it_stands_whatever_breaks_the_pumps_current(
        tmp_path, device, stalled):
    waves = pump_off(build(), tmp_path, device, stalled)
    figures = build().figures

    for net in ("panel plus", "pump plus"):
        assert waves.volts(net).max() <= MONITOR_MOST_V
    # And no more than the sheet of worst cases reckons with, by hand: V + I sqrt(L / C).
    assert waves.volts("panel plus").max() <= figures["panel_peak_V"]
    assert waves.volts("pump plus").max() <= figures["pump_plus_peak_V"]
    # Half of the switch's 60 V remain; the suppressors hold what a contact breaks.
    assert waves.volts("pump minus").max() * 1.5 <= 60.0
    assert waves.volts("pump feed, from the deck").max() <= build().netlist["V2"].rated["clamps"]


def test_the_pump_draws_in_the_simulation_what_the_figures_say(tmp_path):
    running = pump_off(build(), tmp_path, "Q1", False).amperes("vinduced")
    stalled = pump_off(build(), tmp_path, "Q1", True).amperes("vinduced")

    # Leads and shunts leave a little less; the panel's knee a little less than its short circuit.
    assert running[0] == pytest.approx(build().figures["pump_run_A"], rel=0.05)
    assert stalled[0] == pytest.approx(build().figures["pump_stall_A"], rel=0.02)


def test_without_capacitors_and_suppressors_the_leads_break_what_hangs_on_them(tmp_path):
    bare = build().netlist.changed(dict.fromkeys(("C1", "C2", "V1", "V2")))
    waves = pump_off(Build(build().rig, bare), tmp_path, "Q1", False)

    assert waves.volts("pump plus").max() > MONITOR_MOST_V


def test_without_its_diode_the_motor_makes_volts_at_the_thermostat(tmp_path):
    def swings_V(netlist):
        waves = pump_off(Build(build().rig, netlist), tmp_path, "B2", True)
        return (waves.volts("motor plus", "pump") - waves.volts("pump minus", "pump")).min()

    # With it the current goes round through a diode; without it only an arc would bound them.
    assert swings_V(build().netlist) > -2.0
    assert swings_V(build().netlist.changed({"D4": None})) < -100.0


def with_generator(deck, clamped=True):
    """Put the generator in at runaway: what its speed induces behind its winding."""
    values = deck.build.values
    speed = worst.runaway(values, clamped=clamped).speed
    one, other = deck.pin(deck.build.netlist["G1"], "1"), deck.pin(deck.build.netlist["G1"], "2")
    # The rig states what its rectifier drops; the deck's own bridge drops BRIDGE_V of it.
    induced_V = (values["generator.emf_constant_V_s_rad"] * speed
                 - values["generator.rectifier_drop_V"] + BRIDGE_V)
    deck.add("V", "emf", "ge", other, f"{induced_V:g}")
    deck.add("R", "winding", "ge", one, f"{values['generator.resistance_ohm']:g}")
    deck.add("R", "other", other, "0", 1e7)


@pytest.mark.parametrize("demo", ["hillside", "orchard"])
def test_the_clamp_holds_the_runaway_and_stands_it(tmp_path, demo):
    one = build(demo)
    circuits = (*GENERATOR, "generator without a monitor", "lamps without a monitor")
    deck = Deck(one, circuits, "K1")  # no lamps: the relay is open
    with_generator(deck)
    waves = deck.run(tmp_path, 0.4, 1e-4)
    volts = waves.volts("generator plus", "plate")[-1]
    amperes = -waves.amperes("vemf")[-1]
    rated_V = one.values["generator.clamp_voltage_V"]

    # Not below its voltage less the divider's 1 % twice, nor above what the figures reckon with.
    assert 0.98 * rated_V <= volts <= one.figures["generator_clamped_V"] * 1.02
    assert volts * amperes <= one.values["generator.clamp_power_W"] / 2
    assert waves.volts("generator plus", "plate").max() <= one.named["clamp_peak_V"]  # BS9


def test_with_its_shunt_open_the_generator_still_has_its_clamp(tmp_path):
    open_shunt = build().netlist.changed({"R3": None})
    deck = Deck(Build(build().rig, open_shunt), GENERATOR, "K1")
    with_generator(deck)
    volts = deck.run(tmp_path, 0.4, 1e-4).volts("rectified plus", "plate")[-1]

    # The diode across the shunt adds its drop.
    assert volts < build().values["generator.clamp_voltage_V"] + 1.2


def test_without_the_diode_an_open_shunt_lets_the_generator_run_away(tmp_path):
    lost = build().netlist.changed({"R3": None, "D5": None})
    deck = Deck(Build(build().rig, lost), GENERATOR, "K1")
    with_generator(deck, clamped=False)

    assert deck.run(tmp_path, 0.4, 1e-4).volts("rectified plus", "plate")[-1] > 25.0


def test_the_relays_coil_lifts_its_transistor_by_a_diode_and_no_more(tmp_path):
    deck = Deck(build(), ("lamp relay",), "Q4", at_s=20e-3)
    deck.add("V", "five", deck.node("5 V"), "0", 5)
    waves = deck.run(tmp_path, 30e-3, 1e-5)
    bare = Deck(Build(build().rig, build().netlist.changed({"D6": None})), ("lamp relay",), "Q4",
                at_s=20e-3)
    bare.add("V", "five", bare.node("5 V"), "0", 5)

    assert waves.volts("relay low").max() <= build().figures["six_V"]
    assert bare.run(tmp_path, 30e-3, 1e-5).volts("relay low").max() > 30.0  # what Q4 stands


@functools.cache
def supervised():
    """The demo with its over-full loop supervised."""
    text = load().toml_text.replace("valve_kind = 2", "valve_kind = 2\nloop_supervised = 1", 1)
    return Build.of(load_text(text, "supervised"))


@pytest.mark.parametrize("state", ["shorted", "hanging", "lifted", "cut"])
def test_the_supervised_loop_lies_in_its_windows_as_it_is_wired(tmp_path, state):
    window = next(row for row in PARTS["loop"]["window"] if row["name"] == state)
    deck = Deck(supervised(), ("over-full, supervised",), "B1" if state == "lifted" else "",
                at_s=1e-3)
    deck.add("V", "rail", deck.node("3.3 V"), "0", PARTS["loop"]["rail_V"])
    float_end = deck.node("LSHH-UP, loop", "deck")
    if state == "shorted":
        deck.add("R", "crushed", float_end, "0", 1)
    if state == "cut":
        deck.lines = [line for line in deck.lines if not line.startswith("Rlead")]
    volts = deck.run(tmp_path, 20e-3, 1e-5).volts("GP28")[-1]

    assert window["low_V"] <= volts <= window["high_V"] + 1e-3


def with_meter(deck, hertz):
    """Put a meter's open collector on the line, at a frequency; 0 = open."""
    deck.add("V", "rail", deck.node("3.3 V"), "0", 3.3)
    line = deck.node("flow up", "main")
    if hertz:
        period = 1.0 / hertz
        deck.add("V", "hall", "hall", "0",
                 f"PULSE(0 1 {period / 4:g} 1u 1u {period / 2:g} {period:g})")
        deck.add("S", "hall", line, "0", "hall", "0", "switching")
    return line


def test_a_meters_fastest_pulses_come_through_its_filter(tmp_path):
    fastest = (build().values["sensors.pulses_per_litre"] * build().figures["pump_most_mL_s"]
               / 1000.0)
    deck = Deck(build(), ("flow up",))
    with_meter(deck, fastest)
    volts = deck.run(tmp_path, 5.0 / fastest, 1e-2 / fastest).volts("GP6")

    assert volts.min() < LOW_V / 2
    assert volts.max() > 3.0
    assert np.count_nonzero(np.diff((volts > HIGH_V).astype(int)) == 1) in (4, 5)


@pytest.mark.parametrize(("filtered", "counts"), [(True, False), (False, True)])
def test_a_spike_from_the_pumps_switching_is_no_pulse(tmp_path, filtered, counts):
    # 33 V that switch in 0.3 us beside 5 m of lead, 0.1 nF between them; the meter is open.
    netlist = build().netlist
    if not filtered:  # as it was: the pin on the line itself, 10 kohm to its rail
        netlist = netlist.changed({"C82": None, "V32": None})
    deck = Deck(Build(build().rig, netlist), ("flow up",))
    line = with_meter(deck, 0)
    deck.add("V", "lead", "lead", "0", "PULSE(33 0 100u 0.3u 0.3u 50u 1)")
    deck.add("C", "beside", "lead", line, "0.1n")
    volts = deck.run(tmp_path, 2e-4, 1e-7).volts("GP6")

    assert (volts.min() < LOW_V) == counts


def test_the_decks_lie_in_the_tests_own_folder(tmp_path):
    deck = Deck(build(), ("button",))
    deck.add("V", "rail", deck.node("3.3 V"), "0", 3.3)
    deck.run(tmp_path, 1e-3, 1e-5)

    assert {path.suffix for path in pathlib.Path(tmp_path).iterdir()} == {".net", ".log", ".raw"}
