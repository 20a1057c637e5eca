"""What must hold for any thermistor and root, not only for examples."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from keeper.physics import sensors, solve


@given(t=st.floats(-40, 125))
def test_a_thermistor_gives_its_temperature_back(t):
    ohm = 1e4 * math.exp(3950.0 * (1 / (t + 273.15) - 1 / 298.15))
    assert sensors.beta_degC(ohm, 1e4, 3950) == pytest.approx(t, abs=1e-9)
    abc = (8.802056817e-4, 2.528678842e-4, 1.853428869e-7)
    ohm = sensors.steinhart_hart_ohm(t, *abc)
    assert sensors.steinhart_hart_degC(ohm, *abc) == pytest.approx(t, abs=1e-8)


@given(root=st.floats(-1e6, 1e6))
def test_a_rising_root_is_found_to_the_last_bit(root):
    found = solve.rising_root(lambda x: x - root, -1e6, 1e6)
    assert found == pytest.approx(root, rel=1e-15, abs=1e-9)


def test_a_root_outside_the_interval_ends_at_its_end():
    assert solve.rising_root(lambda x: x - 5.0, 0.0, 1.0) == 1.0
    assert solve.rising_root(lambda x: x + 5.0, 0.0, 1.0) == pytest.approx(0.0, abs=1e-300)
