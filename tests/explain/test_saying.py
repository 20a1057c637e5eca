"""A value is written in the unit that suits its size, with the digits that it deserves."""

import pytest

from forebay import units
from forebay.explain.saying import LEAST, saying
from forebay.showing import METRIC, SYSTEMS, US

BOTH = pytest.mark.parametrize("system", SYSTEMS.values(), ids=list(SYSTEMS))
# The factors of the SI prefixes and of the hour, by hand.
WRITTEN = (
    (0.910, "volume", "910 L"), (0.0, "volume", "0 L"), (25.0, "volume", "25 m\u00b3"),
    (0.06, "length", "60 mm"), (11.229, "length", "11.2 m"), (0.9996, "length", "1 m"),
    (0.3, "power", "0.3 W"), (0.08, "power", "80 mW"), (1500.0, "power", "1.5 kW"),
    (27414.6, "time", "7.6 h"), (84.7, "time", "1.4 min"), (432000.0, "time", "120 h"),
    (84714.4, "energy", "84.7 kJ"), (999.7, "energy", "1 kJ"), (0.980665e12, "energy", "0.981 TJ"),
    (0.980665e12, "energy in hours", "0.272 GWh"), (84714.4, "energy in hours", "23.5 Wh"),
    (25906.7, "energy by volume", "25.9 J/L"), (999.5, "mass", "1000 kg"),
    (10500.0, "mass", "10.5 t"), (5.0, "temperature difference", "5 K"),
    (0.0605, "ratio", "6 %"), (9.805, "count", "9.8"), (41.13, "count", "41"),
    (54.0, "temperature", "54 \u00b0C"), (-5.0, "temperature", "-5 \u00b0C"),
    (4.64384e-5, "flow", "2.79 L/min"), (6e5, "pressure", "6 bar"), (13.4, "speed", "13.4 m/s"),
)
# From the definitions, by hand: the foot 0.3048 m, the gallon 3.785411784 L, the pound
# 0.45359237 kg, psi 6894.757 Pa.
WRITTEN_US = (
    (0.910, "volume", "240 US gal"), (0.06, "length", "2.36 in"), (11.229, "length", "36.8 ft"),
    (999.5, "mass", "2200 lb"), (4.64384e-5, "flow", "0.736 US gal/min"),
    (54.0, "temperature", "129 \u00b0F"), (5.0, "temperature difference", "9 \u00b0F"),
    (6e5, "pressure", "87 psi"), (13.4, "speed", "44 ft/s"),
    (25906.7, "energy by volume", "98.1 J/US gal"), (84714.4, "energy", "84.7 kJ"),
    (0.3, "power", "0.3 W"), (27414.6, "time", "7.6 h"), (0.0605, "ratio", "6 %"),
)


@pytest.mark.parametrize(("value", "dimension", "text", "system"), [
    *((*row, METRIC) for row in WRITTEN), *((*row, US) for row in WRITTEN_US)])
def test_a_value_is_written_as_people_write_it(value, dimension, text, system):
    assert saying(system)(value, dimension) == text.replace(" ", "\N{NO-BREAK SPACE}")


@BOTH
def test_units_of_a_page_can_be_read_and_stand_small_before_large(system):
    for kind, names in saying(system).system.shown.items():
        factors = [units.DIMENSIONS[kind].units[name] for name in names]
        assert factors == sorted(factors)


def test_each_unit_that_is_shown_from_another_size_is_one_of_a_page():
    assert set(LEAST) <= {name for system in SYSTEMS.values()
                          for names in saying(system).system.shown.values() for name in names}
