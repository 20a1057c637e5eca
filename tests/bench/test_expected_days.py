"""The days that the bench of judged days draws are what it says they are."""

import pytest

from forebay.rig import load
from keeper.physics import of_rig
from keeper.physics.solar_pump import SolarPump
from tests.bench.expected.drawn import (
    BORE_FRAC,
    FAULTS,
    HEALTHY,
    NOZZLE,
    PANEL,
    STRAINER,
    TYPICAL_W_M2,
    TYPICAL_CELL_degC,
    broken,
    days_of,
)

VALUES = load().plant()


def flow(values):
    """Returns the flow in typical sun [m3/s]."""
    lift_m = values["upper.inlet_height_m"] - values["lower.base_height_m"] - 0.5
    return SolarPump(*of_rig.solar_pump(values, *of_rig.water(values))).steady(
        TYPICAL_W_M2, TYPICAL_CELL_degC, lift_m)[0]


def test_a_clogged_strainer_takes_three_tenths_of_a_typical_flow():
    assert flow(broken(VALUES, STRAINER)) == pytest.approx(0.7 * flow(VALUES), rel=1e-6)


def test_scale_and_dust_change_what_they_say_and_nothing_else():
    for fault, names in ((NOZZLE, {"turbine.nozzle_diameter_m": BORE_FRAC}),
                         (PANEL, {"panel.short_circuit_current_A": 0.7,
                                  "panel.best_current_A": 0.7})):
        found = broken(VALUES, fault)
        assert {name: found[name] / VALUES[name] for name in VALUES
                if found[name] != VALUES[name]} == pytest.approx(names)


def test_a_seed_gives_the_days_before_a_healthy_one_and_one_of_each_fault():
    days = days_of(load(), 1, 3)

    assert [one.fault for one in days] == [HEALTHY] * 4 + list(FAULTS)
    assert [one.job for one in days_of(load(), 1, 3)] == [one.job for one in days]
    assert len({one.name for one in days}) == len(days)
    for one in days:
        assert len(one.job["sun"][0]) == 1441
        assert one.job["sun"][0][-1] == 0.0     # the night after the day belongs to it
