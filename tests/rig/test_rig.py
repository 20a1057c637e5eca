"""The demo rig loads as its design states; a faulty description is told all its faults."""

import json
import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay import rig
from forebay.docs import rig as document
from forebay.errors import InputError
from forebay.rig.keys import OPTIONAL, REQUIRED, Derived
from forebay.rig.loading import values_of
from forebay.rig.reading import read
from forebay.rig.schema import KEYS, SCHEMA
from keeper.physics import of_rig

ROOT = Path(__file__).resolve().parents[2]
DEMO = (ROOT / "host" / "forebay" / "demo" / "hillside.toml").read_text(encoding="utf-8")

# The demo's figures as its scenario states them, in SI units.
STATED = {
    "upper.length_m": 1.0, "upper.width_m": 1.0, "upper.base_height_m": 9.0,
    "upper.start_volume_m3": 0.060, "upper.empty_volume_m3": 0.050,
    "upper.full_volume_m3": 0.960, "upper.over_full_volume_m3": 0.985,
    "upper.overflow_volume_m3": 1.0, "lower.start_volume_m3": 1.25, "lower.low_volume_m3": 0.1,
    "panel.power_W": 100.0, "panel.cells": 48, "panel.open_circuit_voltage_V": 29.0,
    "panel.tilt_deg": 45.0, "pump.rated_power_W": 18.0, "pump.rated_voltage_V": 24.0,
    "pump.shut_off_head_m": 17.0, "rising_main.length_m": 22.0, "rising_main.diameter_m": 0.020,
    "penstock.length_m": 20.0, "penstock.diameter_m": 0.025,
    "valve.flow_coefficient_m3_h": 1.2, "valve.characteristic": "equal percentage",
    "valve.rangeability": 50.0, "valve.travel_s": 4.0, "valve.on_power_loss": "stays",
    "turbine.nozzle_diameter_m": 0.0021, "turbine.inertia_kg_m2": 1e-4,
    "generator.rated_power_W": 1.5, "lamps.steps_W": [0.3, 0.6, 1.0], "supply.voltage_V": 12.8,
    "supply.capacity_Ah": 6.0, "supply.board_load_W": 0.2, "motor.trip_temperature_degC": 55.0,
    "sensors.flow_frac": 0.02, "sensors.pulses_per_litre": 450.0, "sensors.voltage_frac": 0.005,
    "sensors.voltage_resolution_V": 0.01, "sensors.current_frac": 0.01,
    "sensors.current_resolution_A": 0.001, "sensors.level_uncertainty_m": 0.005,
    "sensors.level_resolution_m": 0.001, "sensors.temperature_uncertainty_K": 0.5,
    "sensors.valve_frac": 0.01, "sensors.voltage_noise_V": 0.02,
    "sensors.current_noise_frac": 0.001, "sensors.level_noise_m": 0.005,
    "sensors.temperature_noise_K": 0.06, "limits.useful_flow_m3_s": 25e-6,
    "limits.valve_rate_per_s": 0.25,
}


def changed(*changes):
    """Returns the demo's text with each (old, new) line exchanged; old must be there."""
    text = DEMO
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


@pytest.mark.parametrize(("zone", "told"), [("Europe/Madrid", []), ("Mars/Base", [
    'site.zone = "Mars/Base": must be the name of a time zone, such as Europe/Madrid or UTC'])])
def test_the_zone_is_a_name_that_there_is(zone, told):
    text = changed(("[site]\n", f'[site]\nzone = "{zone}"\n'))
    assert (faults(text) if told else [rig.load_text(text, "r").site.zone][1:]) == told
    assert rig.load().site.zone is None


def faults(text):
    """Returns the faults of a description, without the file's name."""
    with pytest.raises(rig.RigError) as caught:
        rig.load_text(text, "rig.toml")
    assert isinstance(caught.value, InputError)
    lines = str(caught.value).splitlines()
    assert all(line.startswith("rig.toml: ") for line in lines)
    return [line.removeprefix("rig.toml: ") for line in lines]


@pytest.mark.parametrize("place", STATED)
def test_the_demo_holds_the_figures_of_its_scenario(place):
    section, attribute = place.split(".")
    value = getattr(getattr(rig.load(), section), attribute)
    assert value == pytest.approx(STATED[place]) if isinstance(value, float) else (
        value == STATED[place])


def test_the_demo_lifts_the_water_by_about_ten_point_eight_metres():
    demo = rig.load()
    level = demo.lower.start_volume_m3 / (demo.lower.length_m * demo.lower.width_m)
    lift = demo.upper.inlet_height_m - demo.lower.base_height_m - level
    assert lift == pytest.approx(10.8, abs=0.01)


def test_the_plant_is_plain_data_under_names_of_section_key_and_unit():
    plant = rig.load().plant()
    assert json.loads(json.dumps(plant)) == plant


def test_an_air_temperature_that_is_stated_is_kept():
    assert rig.load().site.air_temperature_degC == 14.0
    assert rig.load().plant()["site.air_temperature_degC"] == 14.0


def test_an_air_temperature_that_is_not_stated_is_absent():
    held = rig.load_text(changed(("air_temperature =", "# air_temperature =")), "rig.toml")
    assert held.site.air_temperature_degC is None
    assert "site.air_temperature_degC" not in held.plant()


def test_the_text_is_kept_and_the_digest_follows_the_content_only():
    demo = rig.load()
    assert demo.toml_text == DEMO
    same = rig.load_text(changed(('base_height = "9.0 m"', "base_height = 9")), "other")
    assert same.digest == demo.digest
    assert re.fullmatch("[0-9a-f]{64}", demo.digest)
    other = rig.load_text(changed(('base_height = "9.0 m"', "base_height = 9.01")), "other")
    assert other.digest != demo.digest


def test_a_file_is_read_from_its_path(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(DEMO, encoding="utf-8")
    assert rig.load(path).plant() == rig.load().plant()


def test_a_missing_section_of_defaults_takes_the_defaults():
    text = DEMO[: DEMO.index("[journal]")]
    assert rig.load_text(text, "rig.toml").journal.tail_sync_s == 60.0


def test_two_faults_are_both_reported():
    found = faults(changed(('height = "1.1 m"', 'height = "-1 m"'), ("cells = 48", "cells = 0")))
    assert [line.split(" ")[0] for line in found] == ["upper.height", "panel.cells"]


def test_two_faults_in_one_list_are_both_reported():
    found = faults(changed(('"0.6 W", "1.0 W"', '"0.6 m", inf')))
    assert [line.split(" ")[0] for line in found] == ["lamps.steps[2]", "lamps.steps[3]"]


@pytest.mark.parametrize("text", ["a = ", "[upper\n", "a = 1\na = 2\n", "x = " + "[" * 5000,
                                  "x = " + "9" * 5000])
def test_text_that_is_not_toml_gives_one_line(text):
    found = faults(text)
    assert len(found) == 1
    assert found[0].startswith("this is not TOML: ")


def test_a_fault_of_toml_names_line_and_column():
    assert "(at line 2, column 6)" in faults("[rig]\nname 3\n")[0]


def test_an_empty_file_names_every_section_that_must_be_there():
    found = faults("")
    assert "[upper]: missing section; add it, see host/docs/rig.md" in found
    assert not any(line.startswith("[journal]") for line in found)


def test_a_key_that_is_missing_is_told_in_a_line_of_a_screen():
    sections = "\n".join(f"[{section.name}]" for section in SCHEMA)
    found = [f"rig.toml: {line}" for line in faults(sections)]
    assert len(found) > len(SCHEMA)
    assert max(len(line) for line in found) <= 80


@pytest.mark.parametrize("text", ["upper = 3", "[[upper]]\nlength = 1", "upper = \"x\""])
def test_what_should_be_a_section_and_is_not_is_one_of_the_faults(text):
    found = faults(text)
    assert sum(line.startswith("upper = ") for line in found) == 1


@pytest.mark.parametrize("name", ["none.toml", ".", "a\0b"])
def test_a_file_that_cannot_be_read_gives_one_line(tmp_path, name):
    with pytest.raises(InputError) as caught:
        rig.load(f"{tmp_path}/{name}")
    assert "cannot be read" in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_bytes_that_are_not_text_give_one_line(tmp_path):
    path = tmp_path / "rig.toml"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(InputError, match="not UTF-8"):
        rig.load(path)


def test_a_round_tank_needs_its_diameter_and_no_length():
    text = changed(('shape = "rectangular"', 'shape = "upright cylinder"'))
    assert faults(text) == [
        'upper.length: does not go with shape = "upright cylinder", only with "rectangular";'
        " remove it",
        'upper.width: does not go with shape = "upright cylinder", only with "rectangular";'
        " remove it",
        "upper.diameter: missing; set 0.05 m to 100 m",
    ]


TABLE = 'shape = "table"\nlevels = [0, "0.5 m", "110 cm"]\nvolumes = [0, "0.5 m3", "1100 L"]\n'
BOX = 'shape = "rectangular"\nlength = "1.0 m"\nwidth = "1.0 m"\nheight = "1.1 m"\n'
LOWER_BOX = 'shape = "rectangular"\nlength = "1.3 m"\nwidth = "1.0 m"\nheight = "1.0 m"\n'


def test_a_table_gives_the_same_tank_as_the_box_that_it_was_measured_on():
    held = rig.load_text(changed((BOX, TABLE)), "rig.toml")
    assert held.upper.height_m == 1.1
    assert held.settings() == rig.load().settings()
    assert of_rig.tank(held.plant(), "upper.").volume_m3(0.7) == pytest.approx(0.7)


def test_a_table_that_does_not_rise_is_refused():
    found = faults(changed((BOX, TABLE.replace('"0.5 m"', '"1.5 m"'))))
    assert len(found) == 1
    assert "must rise together from 0" in found[0]


def test_a_lower_table_that_does_not_rise_is_refused_once_though_its_float_follows_from_it():
    found = faults(changed((LOWER_BOX, TABLE.replace('"0.5 m"', '"1.5 m"'))))
    assert len(found) == 1
    assert "lower.levels" in found[0]
    assert "must rise together from 0" in found[0]


def stated_default(key):
    """Returns whether the default of a key is a value of its own."""
    return key.default not in (REQUIRED, OPTIONAL) and not isinstance(key.default, Derived)


@pytest.mark.parametrize("place", [place for place in KEYS if stated_default(KEYS[place])])
def test_every_default_is_allowed(place):
    assert read(KEYS[place], KEYS[place].default) is not None


@pytest.mark.parametrize("place", KEYS)
def test_every_key_has_a_meaning_and_a_range_that_reads(place):
    key = KEYS[place]
    assert key.meaning
    assert key.choices or key.bounds[0] < key.bounds[1]


@given(st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner,
                                                               max_size=3), max_leaves=5),
    st.sampled_from(sorted(KEYS)))
def test_any_value_of_any_key_is_taken_or_refused_in_single_lines(value, place):
    section, name = place.split(".")
    source = tomllib.loads(DEMO)
    source.setdefault(section, {})[name] = value
    _, found = values_of(source)
    assert all(line.isprintable() for line in found)


def test_the_page_is_current():
    written = (ROOT / "host" / "docs" / "rig.md").read_text(encoding="utf-8")
    assert written == document.page(), (
        "run: python -m forebay.docs.rig > host/docs/rig.md")


def test_the_page_names_every_section_and_key():
    page = document.page()
    for section in SCHEMA:
        assert f"## [{section.name}]" in page
        assert all(f"- `{key.name}`: " in page for key in section.keys)
