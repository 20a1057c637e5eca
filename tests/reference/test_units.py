"""The table of units against pint, a units library that is not ours."""

import math
import re
from fractions import Fraction

import pint
import pytest

from forebay import units

REGISTRY = pint.UnitRegistry(non_int_type=Fraction)  # pyright: ignore[reportArgumentType]
# All is exact, but for pi in an angle and the root in a flow coefficient.
ROUNDED = ("angle", "rotational speed", "voltage by speed", "flow coefficient")
ROUNDING = 1e-15

# Units by the name that pint knows them by; all others by their own, written out.
NAMES = {
    "US gal": "US_liquid_gallon", "US fl oz": "US_fluid_ounce", "imp gal": "imperial_gallon",
    "US gal/min": "US_liquid_gallon / minute", "US gal/h": "US_liquid_gallon / hour",
    "J/US gal": "joule / US_liquid_gallon", "mph": "mile / hour", "psf": "pound_force / foot ** 2",
    "lbf": "pound_force",
    "r/min": "revolution / minute", "%": "percent", "%/K": "percent / kelvin",
    "%/degC": "percent / delta_degree_Celsius", "%/s": "percent / second",
    "degC/W": "delta_degree_Celsius / watt", "mohm": "milliohm", "kohm": "kiloohm",
    "ppm/K": "ppm / kelvin", "/K": "1 / kelvin", "/L": "1 / liter",
    "Cv": "US_liquid_gallon / minute / psi ** 0.5",
}
# A flow coefficient is a flow under the unit of pressure: m3/h at 1 bar.
TARGETS = {"flow coefficient": "m ** 3 / hour / bar ** 0.5"}
DIFFERENCES = {"degC": "delta_degree_Celsius", "degF": "delta_degree_Fahrenheit"}
ROWS = [(kind, unit) for kind in units.DIMENSIONS for unit in units.DIMENSIONS[kind].units]


def expression(unit, kind):
    """Returns a unit of the table in pint's grammar."""
    if kind == "flow coefficient" and unit == "m3/h":
        return TARGETS[kind]
    if kind.startswith("temperature"):
        return DIFFERENCES.get(unit, unit)
    if unit in NAMES:
        return NAMES[unit]
    return re.sub(r"(?<=[a-z])([23])", r" ** \1", unit).replace(" ", "*").replace("****", "**")


def factor(unit, kind):
    """Returns what pint makes one of a unit, in the SI unit of its dimension."""
    target = expression(units.DIMENSIONS[kind].unit or "dimensionless", kind)
    return REGISTRY.Quantity(Fraction(1), expression(unit, kind)).to(target).magnitude


@pytest.mark.parametrize(("kind", "unit"), ROWS)
def test_one_of_a_unit_is_what_pint_makes_of_it(kind, unit):
    ours = units.DIMENSIONS[kind].units[unit]
    if kind not in ROUNDED:
        assert factor(unit, kind) == ours
    else:
        assert math.isclose(factor(unit, kind), ours, rel_tol=ROUNDING)


@pytest.mark.parametrize("unit", units.DIMENSIONS["temperature"].units)
@pytest.mark.parametrize("value", [-40, 0, 21, 100])
def test_a_temperature_is_what_pint_makes_of_it(unit, value):
    theirs = REGISTRY.Quantity(Fraction(value), unit).to("degC").magnitude
    assert units.parse(f"{value} {unit}", "temperature") == float(theirs)


@pytest.mark.parametrize(("text", "kind", "printed", "digits"), [
    # Printed in NIST SP 811, appendix B.8 (from memory), to as many digits.
    ("1 lb", "mass", 4.535924e-1, 7),
    ("1 lbf", "force", 4.448222, 7),
    ("1 psf", "pressure", 4.788026e1, 7),
    ("1 lbf/ft2", "load by area", 4.788026e1, 7),
    ("1 psi", "pressure", 6.894757e3, 7),
    ("1 mph", "speed", 4.4704e-1, 7),
    ("1 km/h", "speed", 2.777778e-1, 7),
    ("1 ft2", "area", 9.290304e-2, 7),
    ("1 in2", "area", 6.4516e-4, 7),
    ("1 imp gal", "volume", 4.54609e-3, 7),
    ("1 US fl oz", "volume", 2.957353e-5, 7),
    ("1 US gpm", "flow", 6.309020e-5, 7),
    ("1 US gph", "flow", 1.051503e-6, 7),
    ("1 kWh", "energy", 3.6e6, 7),
    # Handbook, from memory: 12 AWG is 3.309 mm2, 0000 AWG 107.2 mm2.
    ("12 AWG", "cross-section", 3.309e-6, 4),
    ("-3 AWG", "cross-section", 1.072e-4, 4),
])
def test_a_unit_of_the_trade_is_the_value_that_a_table_prints(text, kind, printed, digits):
    assert float(f"{units.parse(text, kind):.{digits - 1}e}") == printed


@pytest.mark.parametrize(("text", "kind"), [
    # Words with more than one meaning: which gallon, a pound of what.
    ("5 gpm", "flow"), ("5 gal", "volume"), ("5 gph", "flow"), ("1 lb", "force"),
    ("99 AWG", "cross-section"),
])
def test_a_unit_with_two_meanings_or_a_size_that_is_not_made_is_refused(text, kind):
    with pytest.raises(units.UnitError):
        units.parse(text, kind)
