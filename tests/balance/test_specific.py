"""Figures by the litre and by the watt."""

import pytest

from forebay.balance.measured import Measured
from forebay.balance.specific import SPECIFIC, specific


def figure(value, **parts):
    return Measured(value, parts)


GIVEN = {"panel": figure(1_512_000.0, a=15_120.0), "pump": figure(180_000.0, b=1800.0),
         "lamps": figure(9000.0), "up": figure(300.0, c=6.0), "down": figure(600.0),
         "rated_W": 100.0}


def found(**changes):
    given = {**GIVEN, **changes}
    return specific({key: given[key] for key in ("panel", "pump", "lamps")},
                    {key: given[key] for key in ("up", "down")}, given["rated_W"])


def test_a_litre_costs_what_the_pump_took_and_gives_what_the_lamps_had():
    mine = found()
    assert list(mine) == [key for key, _ in SPECIFIC]
    lifted, light = mine["lifted_J_L"], mine["light_J_L"]
    assert lifted is not None
    assert light is not None
    assert (lifted.value, light.value) == (pytest.approx(600), pytest.approx(15))
    assert lifted.u == pytest.approx(600 * (0.01**2 + 0.02**2) ** 0.5)


def test_the_array_yield_is_the_time_at_rated_power():
    # IEC 61724-1, as the electropaedia of IEC words it: energy per unit of rated power, the
    # duration for which the device would have had to operate at it.  0.42 kWh of 100 W: 4.2 h.
    mine = found()["array_yield_h"]
    assert mine is not None
    assert (mine.value, mine.u) == (pytest.approx(4.2), pytest.approx(0.042))


@pytest.mark.parametrize(("changes", "gone"), [
    ({"pump": None}, {"lifted_J_L"}), ({"down": figure(0.5)}, {"light_J_L"}),
    ({"up": figure(3.0, c=1.1)}, {"lifted_J_L"}),
    ({"panel": None}, {"array_yield_h"}), ({"rated_W": None}, {"array_yield_h"})])
def test_what_is_not_known_or_next_to_nothing_has_no_specific_figure(changes, gone):
    assert {key for key, value in found(**changes).items() if value is None} == gone
