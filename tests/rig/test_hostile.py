"""Fifty and more hostile descriptions: each planted fault is told in exactly one clear line.

No outside source says how an error reads: the bounds are aims.  A line names section and
key where there is one, the value that stands there, and what may stand there.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.rig import load
from forebay.rig.checking import check

ORCHARD = load(demo="orchard").toml_text
HILLSIDE = load().toml_text
MOST_LETTERS = 200  # of a line, but for the name of the file
MARKS = '\n[assumed]\npump = ["rated_head"]\n'


def orchard(old, new=""):
    """Returns the orchard's description with one text exchanged; it must be there once."""
    assert ORCHARD.count(old) >= 1, old
    return ORCHARD.replace(old, new, 1)


def hillside(old, new=""):
    assert HILLSIDE.count(old) >= 1, old
    return HILLSIDE.replace(old, new, 1)


def section(name, text=ORCHARD):
    """Returns one section's text of a description."""
    begin = text.index(f"[{name}]")
    return text[begin:text.find("\n[", begin)]


# name: (the file, how its one line begins, what else it says)
ONE_FAULT = {
    "a word where a number must be": (
        orchard("cells = 36", 'cells = "many"'), 'panel.cells = "many": ', "1 to 200"),
    "a number in quotes for a count": (
        orchard("cells = 36", 'cells = "36"'), 'panel.cells = "36": ', "whole number"),
    "true for a number": (
        orchard("hit_frac = 0.60", "hit_frac = true"), "turbine.hit_frac = true: ", "0.05 to 1"),
    "a date for a length": (
        orchard('length = "16 m"', "length = 2026-01-01"), "rising_main.length = ", "0.1 m"),
    "a list for a number": (
        orchard('power = "50 W"', 'power = ["50 W"]'), 'panel.power = ["50 W"]: ', "1 W to 1 kW"),
    "a table for a number": (
        orchard('power = "50 W"', "power = {W = 50}"), "panel.power = ", "1 W to 1 kW"),
    "a number for a list": (
        orchard('steps = ["80 mW", "150 mW"]', "steps = 0.15"), "lamps.steps = 0.15: ", "1 to 8"),
    "an empty list": (
        orchard('steps = ["80 mW", "150 mW"]', "steps = []"), "lamps.steps = []: ", "1 to 8"),
    "a list of lists": (
        orchard('steps = ["80 mW", "150 mW"]', "steps = [[0.08], 0.15]"),
        "lamps.steps[1] = [0.08]: ", "20 mW to 1 kW"),
    "a number for a name": (
        orchard('name = "orchard shed"', "name = 7"), "rig.name = 7: ", "1 to 60"),
    "an empty name": (
        orchard('name = "orchard shed"', 'name = "  "'), 'rig.name = "  ": ', "1 to 60"),
    "a name without end": (
        orchard('name = "orchard shed"', f'name = "{"x" * 5000}"'), 'rig.name = "xxx', "1 to 60"),
    "a unit of another kind": (
        orchard('voltage = "6.4 V"', 'voltage = "6.4 A"'), 'supply.voltage = "6.4 A": ', "3 V"),
    "a unit that there is not": (
        orchard('voltage = "6.4 V"', 'voltage = "6.4 furlong"'), "supply.voltage = ", "3 V"),
    "a decimal comma": (
        orchard('base_height = "8.0 m"', 'base_height = "8,0 m"'),
        'upper.base_height = "8,0 m": ', "decimal point"),
    "a unit alone": (
        orchard('travel = "8 s"', 'travel = "s"'), 'valve.travel = "s": ', "0.5 s to 100 s"),
    "a length below nothing": (
        orchard('diameter = "0.58 m"', 'diameter = "-0.58 m"'),
        'upper.diameter = "-0.58 m": ', "0.05 m to 100 m"),
    "not a number": (
        orchard("hit_frac = 0.60", "hit_frac = nan"), "turbine.hit_frac = NaN: ", "0.05 to 1"),
    "without end": (
        orchard("cells = 36", "cells = inf"), "panel.cells = Infinity: ", "whole number"),
    "below everything": (
        orchard('capacity = "6 Ah"', "capacity = -inf"), "supply.capacity = -Infinity: ", "Ah"),
    "a number of four hundred digits": (
        orchard('capacity = "6 Ah"', "capacity = 1" + "0" * 400), "supply.capacity = 1000", "Ah"),
    "a power of ten of nine digits": (
        orchard('capacity = "6 Ah"', 'capacity = "1e999999999 Ah"'), "supply.capacity = ", "Ah"),
    "a kilometre of head": (
        orchard('base_height = "8.0 m"', 'base_height = "1 km"'),
        'upper.base_height = "1 km": ', "0.5 m to 200 m"),
    "a section twice": (ORCHARD + "\n[pump]\n", "this is not TOML: ", "pump"),
    "a key twice": (
        orchard("cells = 36", "cells = 36\ncells = 36"), "this is not TOML: ", "line"),
    "a list of sections": (
        orchard("[supply]", "[[supply]]"), "supply = ", "must be a section, written [supply]"),
    "a value for a section": (
        "supply = 5\n" + ORCHARD.replace(section("supply"), ""), "supply = 5: ", "[supply]"),
    "a misspelt section": (
        orchard("[penstock]", "[penstok]"), "[penstok]: unknown section; ", "[penstock]"),
    "a section that nobody knows": (
        ORCHARD + "\n[wizard]\nhat = 1\n", "[wizard]: unknown section; ", "remove it"),
    "a section inside another": (
        ORCHARD + "\n[pump.spare]\nrated_head = 5\n", "pump.spare: unknown key; ", "remove"),
    "a misspelt key": (
        orchard("rated_head", "rated_haed"), "pump.rated_haed: unknown key; ", "pump.rated_head"),
    "a key with an escape in it": (
        orchard("[pump]", '[pump]\n"\\u001b[2J" = 1'), 'pump."\\u001b[2J": unknown', "remove"),
    "a key that is missing": (
        orchard('rated_head = "10 m"\n'), "pump.rated_head: missing; ", "0.1 m to 200 m"),
    "a section that is missing": (
        ORCHARD.replace(section("motor"), ""), "[motor]: missing section; ", "add it"),
    "a section that others need is missing": (
        ORCHARD.replace(section("upper"), ""), "[upper]: missing section; ", "add it"),
    "a key that another place says": (
        orchard("[board]", "[board]\nlink_unit = 4"), "board.link_unit = 4: ", "link.unit"),
    "the full float below the low one": (
        orchard('full_volume = "196 L"', 'full_volume = "10 L"'),
        "upper.empty_volume", "must be below upper.full_volume"),
    "the over-full float below the full one": (
        orchard('over_full_volume = "205 L"', 'over_full_volume = "150 L"'),
        "upper.full_volume", "must be below upper.over_full_volume"),
    "an overflow beyond the brim": (
        orchard('overflow_volume = "212 L"', 'overflow_volume = "250 L"'),
        "upper.overflow_volume", "224."),
    "a tank lower than its floats": (
        orchard('height = "0.85 m"', 'height = "0.3 m"'), "upper.overflow_volume", "79."),
    "an inlet below the overflow": (
        orchard('inlet_height = "8.90 m"', 'inlet_height = "8.1 m"'), "upper.inlet_height", "8.8"),
    "a lower tank above the nozzle": (
        orchard('base_height = "-1.0 m"', 'base_height = "-0.3 m"'), "lower.base_height", "rim"),
    "more water than the lower tank holds": (
        orchard('start_volume = "290 L"', 'start_volume = "400 L"'), "lower.start_volume", "324"),
    "a table that falls": (
        orchard('shape = "upright cylinder"\ndiameter = "0.58 m"\nheight = "0.85 m"',
                'shape = "table"\nlevels = [0, 0.6, 0.5, 0.85]\nvolumes = [0, 0.1, 0.2, 0.224]'),
        "upper.levels", "must rise"),
    "a table of two lengths": (
        orchard('shape = "upright cylinder"\ndiameter = "0.58 m"\nheight = "0.85 m"',
                'shape = "table"\nlevels = [0, 0.5, 0.85]\nvolumes = [0, 0.224]'),
        "upper.levels", "together"),
    "a shape that there is not": (
        orchard('shape = "upright cylinder"', 'shape = "sphere"'), 'upper.shape = "sphere": ',
        '"table"'),
    "a valve that may": (
        orchard('on_power_loss = "stays"', 'on_power_loss = "perhaps"'),
        'valve.on_power_loss = "perhaps": ', '"stays" or "closes"'),
    "a choice that is a list": (
        orchard('on_power_loss = "stays"', 'on_power_loss = ["stays"]'), "valve.on_power_loss = ",
        '"stays" or "closes"'),
    "a penstock shorter than its fall": (
        orchard("[penstock]\n" 'length = "16 m"', "[penstock]\n" 'length = "4 m"'),
        "penstock.length", "8 m"),
    "a penstock of a hair": (
        orchard('[penstock]\nlength = "16 m"\ndiameter = "16 mm"',
                '[penstock]\nlength = "16 m"\ndiameter = "2 mm"'), "lamps.steps", "at most"),
    "a nozzle wider than its pipe": (
        orchard('nozzle_diameter = "1.15 mm"', 'nozzle_diameter = "20 mm"'),
        "turbine.nozzle_diameter", "penstock.diameter"),
    "a pump that does not reach the tank": (
        orchard('shut_off_head = "14 m"\nrated_head = "10 m"',
                'shut_off_head = "6 m"\nrated_head = "4 m"'), "pump.shut_off_head", "least lift"),
    "a pump that gives more than it takes": (
        orchard('rated_power = "16 W"', 'rated_power = "4 W"'), "pump.rated_power", "lifts"),
    "a rated head above shut-off": (
        orchard('rated_head = "10 m"', 'rated_head = "15 m"'), "pump.rated_head", "shut_off_head"),
    "a panel that no sun makes": (
        orchard('best_voltage = "17.4 V"', 'best_voltage = "22 V"'), "panel.best_voltage",
        "open_circuit_voltage"),
    "a panel brighter than its figures": (
        orchard('power = "50 W"', 'power = "90 W"'), "panel.power", "best_voltage x"),
    "an instrument that there is not": (
        orchard("[sensors]", '[sensors]\nphase_meter = "fitted"'),
        "sensors.phase_meter: unknown key; ", ""),
    "an instrument that is perhaps there": (
        orchard('level = "absent"', 'level = "maybe"'), 'sensors.level = "maybe": ', '"fitted"'),
    "nothing to stop the pump": (
        orchard("[sensors]", '[sensors]\nfull_float = "absent"'), "sensors.full_float", "stop"),
    "nothing to see the light": (
        orchard("[sensors]", '[sensors]\nlamp_meter = "absent"'), "sensors.lamp_meter", "light"),
    "a dusk that nothing sees": (
        orchard('begins = "order"', 'begins = "dusk"'), "night.begins", "order"),
    "a meter without its range": (
        orchard('lamp_range = "0.4 A"\n'), "sensors.lamp_range: missing; ", "82 mA to 8 A"),
    "a light beyond the generator": (
        orchard('rated_power = "0.4 W"', 'rated_power = "0.1 W"'), "", "generator.rated_power"),
    "a setpoint that no step has": (
        orchard('setpoint = "150 mW"', 'setpoint = "0.3 W"'), "night.setpoint", "0.15 W"),
    "a clamp below its trip": (
        orchard('clamp_voltage = "4.3 V"', 'clamp_voltage = "3.6 V"'), "generator.trip_voltage",
        "generator.clamp_voltage"),
    "a trip below all that it is compared with": (
        orchard('trip_voltage = "3.9 V"', 'trip_voltage = "1 V"'), "generator.reset_voltage",
        "generator.trip_voltage"),
    "a wheel of a hundred tonnes": (
        orchard('inertia = "2.6e-5 kg m2"', 'inertia = "100 kg m2"'), "valve.travel", "turbine"),
    "a pipe that bursts": (
        orchard('pressure_rating = "6 bar"', 'pressure_rating = "0.6 bar"'),
        "penstock.pressure_rating", "bar"),
    "two thermometers of one number": (
        hillside("water_serial_high = 0x01A2B3\nwater_serial_low = 0xF70819",
                 "water_serial_high = 0x01A2B3\nwater_serial_low = 0xC4D5E6"),
        "board.water_serial_low", "water's own"),
    "a meter that reads from above the useful flow": (
        hillside('flow_floor = "1 L/min"', 'flow_floor = "3 L/min"'), "sensors.flow_floor", ""),
    "marks that are no section": ("assumed = 3\n" + ORCHARD, "assumed = 3: ", "[assumed]"),
    "marks of no list": (
        ORCHARD + '\n[assumed]\npump = "rated_head"\n', 'assumed.pump = "rated_head": ', "list"),
    "marks of numbers": (ORCHARD + "\n[assumed]\npump = [1, 2]\n", "assumed.pump = ", "names"),
    "a mark of a section that there is not": (
        ORCHARD + '\n[assumed]\npmup = ["rated_head"]\n', "assumed.pmup: ", "assumed.pump"),
    "a mark of a key that there is not": (
        ORCHARD + '\n[assumed]\npump = ["rated_haed"]\n', "assumed.pump[1] = ", '"rated_head"'),
    "a mark of a wish": (
        ORCHARD + '\n[assumed]\nnight = ["setpoint"]\n', "assumed.night[1] = ", "choice"),
    "marks in a misspelt section": (
        ORCHARD + '\n[asumed]\npump = ["rated_head"]\n', "[asumed]: unknown section; ",
        "[assumed]"),
    "a marked key with a fault of its own": (
        orchard('rated_head = "10 m"', "rated_head = -1") + MARKS, "pump.rated_head = -1: ",
        "0.1 m"),
    "a bracket that does not close": (orchard("[panel]", "[panel"), "this is not TOML: ", "line"),
    "a thousand brackets": (ORCHARD + "\nx = " + "[" * 5000, "this is not TOML: ", ""),
    "letters of nothing": ("\0" * 500, "this is not TOML: ", ""),
    "one line of another language": ("{'rig': 1}", "this is not TOML: ", ""),
}
FILES = {
    "bytes that are no text": (bytes(range(256)) * 40, "not UTF-8"),
    "two megabytes": (b"# " + b"x" * 2_000_000, "longer than 1000000 bytes"),
    "two megabytes of keys": (b"x = 1\n" * 340_000, "longer than 1000000 bytes"),
}


def told(tmp_path, content):
    """Returns what is found in a file of a text or bytes."""
    file = tmp_path / "r.toml"
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    found = check(file)
    assert all(line.startswith(f"{file}: ") for line in found.faults)
    return found, [line.removeprefix(f"{file}: ") for line in found.faults]


def test_there_are_at_least_fifty():
    assert len(ONE_FAULT) + len(FILES) >= 50


@pytest.mark.parametrize("kind", ONE_FAULT)
def test_one_planted_fault_is_one_clear_line(tmp_path, kind):
    text, begins, says = ONE_FAULT[kind]
    found, lines = told(tmp_path, text)
    assert len(lines) == 1, lines
    assert lines[0].startswith(begins)
    assert says in lines[0]
    assert lines[0].isprintable()
    assert len(lines[0]) <= MOST_LETTERS, len(lines[0])
    assert (found.rig, found.notices, found.figures) == (None, [], 0)


@pytest.mark.parametrize("kind", FILES)
def test_what_is_no_description_is_one_line(tmp_path, kind):
    content, says = FILES[kind]
    _, lines = told(tmp_path, content)
    assert len(lines) == 1
    assert says in lines[0]
    assert len(lines[0]) <= MOST_LETTERS


@pytest.mark.parametrize("name", ["none.toml", ".", "nul\0letter"])
def test_what_cannot_be_read_is_one_line(tmp_path, name):
    found = check(f"{tmp_path}/{name}")
    assert len(found.faults) == 1
    assert "cannot be read" in found.faults[0]


def test_an_empty_file_is_a_line_for_each_section_that_must_be_there(tmp_path):
    _, lines = told(tmp_path, "")
    assert len(set(lines)) == len(lines)
    assert all(": missing" in line for line in lines)


def test_several_planted_faults_are_a_line_each(tmp_path):
    text = (ORCHARD.replace("cells = 36", "cells = 0").replace("rated_head", "rated_haed")
            .replace('"1.15 mm"', '"20 mm"') + '\n[assumed]\nmotor = ["weight"]\n')
    _, lines = told(tmp_path, text)
    assert sorted(line.split()[0].rstrip(":") for line in lines) == [
        "assumed.motor[1]", "panel.cells", "pump.rated_haed", "turbine.nozzle_diameter"]


def test_a_sound_file_has_its_notices_and_counts(tmp_path):
    found, lines = told(tmp_path, ORCHARD + MARKS)
    held = load(tmp_path / "r.toml")
    assert lines == []
    assert found.notices == held.notices()
    assert (found.figures, found.assumed, found.marked) == (
        len(held.figures), len(held.assumed), 1)


@given(st.text(max_size=200) | st.binary(max_size=200))
def test_any_content_is_told_and_nothing_raises(tmp_path_factory, content):
    _, lines = told(tmp_path_factory.getbasetemp(), content)
    assert lines
    assert all(line.isprintable() for line in lines)
