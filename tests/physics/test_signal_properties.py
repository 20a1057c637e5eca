"""What must hold for any reading, energy and root, not only for examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from keeper.physics import (
    energy,
    sensors,
    solve,
)

G = 9.80665


@given(raw=st.integers(-880, 2000))
def test_a_thermometer_register_survives_both_ways(raw):
    assert sensors.one_wire_raw(sensors.one_wire_degC(raw % 65536)) == raw % 65536


@given(data=st.binary(max_size=16))
def test_a_message_with_its_check_byte_checks_to_zero(data):
    assert sensors.crc8(data + bytes([sensors.crc8(data)])) == 0


@given(t=st.floats(-40, 125))
def test_a_thermistor_gives_its_temperature_back(t):
    assert sensors.beta_degC(sensors.beta_ohm(t, 1e4, 3950), 1e4, 3950) == pytest.approx(t, 1e-9)
    abc = (8.802056817e-4, 2.528678842e-4, 1.853428869e-7)
    ohm = sensors.steinhart_hart_ohm(t, *abc)
    assert sensors.steinhart_hart_degC(ohm, *abc) == pytest.approx(t, abs=1e-8)
    ratio = sensors.ratio_from_thermistor_frac(ohm, 1e4)
    assert sensors.thermistor_from_ratio_ohm(ratio, 1e4) == pytest.approx(ohm, rel=1e-9)


@given(level=st.floats(0.05, 20), share=st.floats(0, 1), flow=st.floats(2e-5, 1e-3))
def test_meters_give_their_quantity_back(level, share, flow):
    pressure = sensors.level_pressure_Pa(level, 998.2, G, 0.05)
    assert sensors.pressure_level_m(pressure, 998.2, G, 0.05) == pytest.approx(level)
    assert sensors.loop_frac(sensors.loop_mA(share)) == pytest.approx(share, abs=1e-12)
    frequency = sensors.pulse_frequency_Hz(flow, 450.0, 1.6e-5)
    assert sensors.pulse_flow_m3_s(frequency, 450.0) == pytest.approx(flow)


@given(value=st.floats(-50, 50))
def test_a_register_is_within_half_a_step_or_clipped(value):
    raw = sensors.register_raw(value, 0.00125, 0, 32767)
    back = sensors.register_value(raw, 0.00125)
    assert back == pytest.approx(min(max(value, 0), 32767 * 0.00125), abs=0.000626)


@given(joules=st.floats(1e-3, 1e12), power=st.floats(1e-3, 1e6))
def test_energy_power_and_time_fit_together(joules, power):
    assert energy.joules(energy.watt_hours(joules)) == pytest.approx(joules)
    time = energy.duration_s(joules, power)
    if 0.001 <= time <= 1e10:
        assert energy.mean_power_W(joules, time) == pytest.approx(power)
    volume = energy.volume_for_energy_m3(joules, 9.0, 998.2, G)
    assert energy.water_energy_J(volume, 9.0, 998.2, G) == pytest.approx(joules)


@given(root=st.floats(-1e6, 1e6))
def test_a_rising_root_is_found_to_the_last_bit(root):
    found = solve.rising_root(lambda x: x - root, -1e6, 1e6)
    assert found == pytest.approx(root, rel=1e-15, abs=1e-9)


def test_a_root_outside_the_interval_ends_at_its_end():
    assert solve.rising_root(lambda x: x - 5.0, 0.0, 1.0) == 1.0
    assert solve.rising_root(lambda x: x + 5.0, 0.0, 1.0) == pytest.approx(0.0, abs=1e-300)
