"""The sun by what the panel gave."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as of
from pvlib import pvsystem

from forebay.expected.panelsun import TOLD_U, Curve, Moved, cloudless, seen
from forebay.rig import load

VALUES = load().plant()
CURVE = Curve(VALUES)


def point(poa, cell, share):
    """Returns (V, A) of pvlib's curve at a share of its best voltage; De Soto's single diode."""
    panel = CURVE.panel
    light = poa / 1000.0 * (panel.light_ref + panel.light_per_K * (cell - 25.0))
    kelvin = (cell + 273.15) / 298.15
    gap = 1.121 * (1.0 - 0.0002677 * (cell - 25.0))      # of silicon, De Soto 2006
    dark = panel.dark_ref * kelvin ** 3 * np.exp(
        (1.121 / 298.15 - gap / (cell + 273.15)) / 8.617333e-5)
    found = pvsystem.singlediode(light, dark, panel.series, panel.shunt_ref * 1000.0 / poa,
                                 panel.ideal_ref * kelvin)
    volts = share * found["v_mp"]
    amps = pvsystem.i_from_v(volts, light, dark, panel.series, panel.shunt_ref * 1000.0 / poa,
                             panel.ideal_ref * kelvin)
    return float(np.asarray(volts)), float(np.asarray(amps))


@given(of.floats(60.0, 1100.0), of.floats(-5.0, 35.0), of.floats(0.1, 0.85))
def test_below_the_knee_the_current_tells_the_sun(poa, air, share):
    # Source: the curve is pvlib's (singlediode, i_from_v), not this project's.
    volts, amps = point(poa, air + poa / 31.84, share)
    found = seen(CURVE, np.array([volts]), np.array([amps]), np.array([poa]), air)

    assert found.poa_W_m2[0] == pytest.approx(poa, rel=0.03)
    assert found.u_ln[0] < TOLD_U


@given(of.floats(300.0, 1000.0), of.floats(0.3, 1.2))
def test_an_unloaded_panel_tells_little_and_says_so(poa, clearness):
    volts, _ = point(poa, 25.0 + poa / 31.84, 1.2)
    found = seen(CURVE, np.array([volts]), np.array([0.02]), np.array([poa / clearness]), 15.0)

    assert found.u_ln[0] > TOLD_U
    assert not found.is_told[0]


def test_the_point_that_was_read_is_met_by_what_is_seen():
    volts, amps = point(700.0, 45.0, 1.12)
    found = seen(CURVE, np.array([volts]), np.array([amps]), np.array([700.0]), 15.0)

    needed = CURVE.needed_A(volts, amps, found.poa_W_m2, found.cell_degC)
    assert CURVE.light_A(found.poa_W_m2, found.cell_degC) == pytest.approx(needed, rel=0.01)


def test_without_readings_the_shape_of_a_clear_day_bridges():
    clear = np.array([400.0, 500.0, 600.0, 500.0, 400.0])
    volts, amps = (np.full(5, np.nan) for _ in range(2))
    volts[0], amps[0] = point(0.8 * 400.0, 25.0, 0.7)
    volts[4], amps[4] = point(0.8 * 400.0, 25.0, 0.7)
    found = seen(CURVE, volts, amps, clear, 15.0)

    assert found.poa_W_m2 == pytest.approx(0.8 * clear, rel=0.05)
    assert found.is_told.tolist() == [True, False, False, False, True]


def test_what_is_not_told_follows_what_is_assumed_and_what_is_told_does_not():
    volts, amps = point(500.0, 30.0, 0.7)
    read = (np.array([volts, np.nan]), np.array([amps, np.nan]), np.array([500.0, 500.0]), 15.0)
    less = seen(CURVE, *read, Moved(before=-1.0)).poa_W_m2
    more = seen(CURVE, *read, Moved(before=1.0)).poa_W_m2

    assert more[0] / less[0] == pytest.approx(1.0, abs=0.03)
    assert more[1] / less[1] > 1.4


def test_in_the_dark_there_is_no_sun():
    found = seen(CURVE, np.array([0.0]), np.array([0.0]), np.array([0.0]), 5.0)

    assert found.poa_W_m2.tolist() == [0.0]
    assert found.is_told.tolist() == [True]


@pytest.mark.parametrize("health", [1.0, 0.7])
def test_a_cloudless_day_shows_the_health_of_the_panel(health):
    clear = np.linspace(150.0, 400.0, 20)
    points = [point(health * one, 15.0 + health * one / 31.84, 0.7) for one in clear]
    volts, amps = (np.array(one) for one in zip(*points, strict=True))

    assert cloudless(CURVE, volts, amps, clear, 15.0) == pytest.approx(health, rel=0.04)


def test_a_day_with_clouds_shows_nothing_of_the_panel():
    clear = np.linspace(150.0, 400.0, 20)
    share = np.where(np.arange(20) % 2, 1.0, 0.4)
    points = [point(one, 20.0, 0.7) for one in clear * share]
    volts, amps = (np.array(one) for one in zip(*points, strict=True))

    assert cloudless(CURVE, volts, amps, clear, 15.0) is None
