"""Sayings of the trade as checks: common practice, no source.

Each is compared with what the physics says. Where the two disagree, the test
holds the disagreement and its reason, so that nobody tunes it away.
"""

import pytest

from keeper.physics import (
    energy,
    generation,
    pipes,
    pump,
    solar_pump,
    tanks,
    turbine,
    valve,
    water,
)

G = 9.80665
RHO = water.density_kg_m3(20.0)
NU = water.kinematic_viscosity_m2_s(20.0)
US_GALLON_M3 = 3.785411784e-3
DRUM_M3 = 55 * US_GALLON_M3  # a 55 US gal drum, filled to its nominal content
LIFT_M = 7.0  # to a flat house roof
DRUM_J = RHO * G * DRUM_M3 * LIFT_M


def test_a_drum_holds_over_200_kg_and_a_little_over_14_kJ():
    # Common practice, no source. Agrees; brim-full, a drum holds some 5 % more.
    assert 200 < DRUM_M3 * RHO < 210
    assert 14e3 < DRUM_J < 14.5e3
    full = tanks.UprightCylinder(0.5715, DRUM_M3 / 0.25652103)  # inside diameter 22.5 in
    base_m = LIFT_M - 0.5 * full.height_m
    assert energy.energy_J(full, full.height_m, base_m, RHO, G) == pytest.approx(DRUM_J, rel=1e-5)


def small_plastic_pump(shut_off_m, most_L_min):
    """A pump on a 50 W panel of 36 cells: 30 % at its best point, 12 V motor, half-inch hose."""
    best = most_L_min / 6e4 / 2
    shaft_W = pump.hydraulic_power_W(best, 0.75 * shut_off_m, RHO, G) / 0.30
    # The motor: 0.8 ohm and 0.035 V s/rad; at 300 rad/s its own friction takes 0.1 A.
    amps = shaft_W / (0.035 * 300.0) + 0.1
    volts = 0.035 * 300.0 + 0.8 * amps
    hose = pipes.Pipe(9.0, 0.0127, 1.5e-6, 3.0, NU, G)
    return solar_pump.SolarPump((21.8, 3.05, 17.5, 2.86, 5e-4, -3.2e-3), volts, volts * amps,
                                300.0, shut_off_m, 0.75 * shut_off_m, best, 0.6, 0.8, 0.1, hose,
                                RHO * G)


def hours_to_fill(driven, irradiance):
    """Hours to fill the drum in a steady sun, cells at 40 degC."""
    return DRUM_M3 / driven.steady(irradiance, 40.0, LIFT_M)[0] / 3600


def test_a_50_W_panel_fills_a_drum_faster_than_is_said_unless_the_sun_only_just_turns_the_pump():
    # Common practice, no source: "5 to 6 hours of fair sun with a small plastic
    # pump". That is 0.7 W of water from a 50 W panel, 1.4 %. The model, with a
    # pump of 30 % at its best point that suits the lift, needs about an hour at
    # 600 W/m2: five times less. It comes to 5 to 6 hours only just above the
    # threshold, where a third of the sun barely holds the water up. So the
    # saying is one of pumps that are too weak for the lift, worn, or fed through
    # thin wire, and of sun that comes and goes: plan with measured flow.
    assert DRUM_J / (5.5 * 3600) == pytest.approx(0.72, abs=0.02)
    for shut_off_m, most_L_min in ((8.0, 10.0), (12.0, 12.0)):
        driven = small_plastic_pump(shut_off_m, most_L_min)
        assert 0.5 < hours_to_fill(driven, 600.0) < 1.5
        weakest = next(s for s in range(100, 600) if driven.steady(s, 40.0, LIFT_M)[0] > 0)
        slow = [hours_to_fill(driven, weakest + step) for step in (1.0, 200.0)]
        assert slow[0] > 5 > slow[1]


def impulse_set(is_linear=False):
    """A set of the drum's size: 7.3 m of head to the nozzle, 19 mm pipe, 2 mm jet."""
    wheel = turbine.ImpulseWheel(0.04, 0.8, 160.0, 0.85, 4e-4)
    loads = (0.1, 15.0, 1.0, 100.0, 1.0, 8.0, 20.0, 45.0)
    line = pipes.Pipe(12.0, 0.019, 1.5e-6, 3.0, NU, G)
    return generation.TurbineSet(line, valve.ControlValve(1.2, 50.0, is_linear), 0.00199, 0.95,
                                 wheel, loads, RHO, G)


def test_an_impulse_set_gives_about_1_W_wide_open():
    # Common practice, no source. Agrees with a wheel of 60 % and a generator of 70 %.
    assert impulse_set().steady(1.0, 7.3)[3] == pytest.approx(1.1, abs=0.2)


def test_half_the_light_at_half_open_is_a_matter_of_the_valve_not_of_the_flow():
    # Common practice, no source: "half of it half open". Half the *flow* gives
    # an eighth of the jet's power and, below the lamps' threshold, less still.
    # Half the *travel* of a linear valve much larger than the nozzle gives nearly
    # all; of an equal-percentage valve, 14 % of its Kv, near half. The saying
    # holds for the handle of such a valve, and never for the flow.
    machine = impulse_set()
    full_flow, _, _, full_W = machine.steady(1.0, 7.3)
    assert impulse_set(is_linear=True).steady(0.5, 7.3)[3] > 0.9 * full_W
    assert machine.steady(0.5, 7.3)[3] == pytest.approx(0.45 * full_W, abs=0.1 * full_W)
    half_open = machine.travel_for_frac(0.5 * full_flow, 7.3)
    assert machine.steady(half_open, 7.3)[3] < 0.125 * full_W
