"""keeper.physics against the outside: every public function, source by source."""

import pytest

from tests.reference import apart
from tests.reference.model import CLOSED_FORM, Check, Make, run
from tests.reference.physics_table import (
    CHECKS,
    NOT_A_QUANTITY,
    checks_of,
    public_targets,
)

MARKS = ("RUN", "READ", "TEST", "CALC", "MEM", "PRACTICE", "IEC")


def name(check: Check) -> str:
    """Short name of a check for the list of tests."""
    return f"{check.target}-{check.expected}"


@pytest.mark.parametrize("check", CHECKS, ids=name)
def test_a_function_gives_the_value_that_its_source_gives(check):
    result = run(check)
    assert check.holds(result), (
        f"{result!r} x {check.scale} against {check.expected!r}: off by "
        f"{check.residual(result):.2g}, allowed {check.tolerance:.2g} ({check.why}); "
        f"{check.source}"
    )


def test_every_public_function_has_a_check_from_outside():
    bare = [target for target in public_targets() if not checks_of(target)]
    assert sorted(bare) == sorted(NOT_A_QUANTITY)


def test_every_check_is_of_something_public_and_says_where_it_is_from():
    targets = set(public_targets())
    assert [check.target for check in CHECKS if check.target not in targets] == []
    assert [check.target for check in CHECKS if not any(m in check.source for m in MARKS)] == []
    assert [check.target for check in CHECKS if not check.why] == []


def test_a_tolerance_beyond_rounding_has_a_reason_of_its_own():
    loose = [check for check in CHECKS if check.tolerance > 1e-8 and check.why == CLOSED_FORM]
    assert [check.target for check in loose] == []


def test_a_check_can_fail():
    right = Check("water.density_kg_m3", (20.0,), 998.2072, 0.004, "", absolute=True)
    wrong = Check("water.density_kg_m3", (20.0,), 998.2172, 0.004, "", absolute=True)
    assert right.holds(run(right))
    assert not wrong.holds(run(wrong))
    assert not Check("checks.number_text", (1.5,), "1.50", 0.0, "").holds("1.5")


def test_an_object_is_built_before_the_call():
    tank = Make("tanks.Rectangular", (2.0, 1.0, 1.0))
    assert run(Check("tanks.Rectangular.volume_m3", (tank, 0.5), 1.0, 0.0, "")) == 1.0
    assert repr(tank) == "tanks.Rectangular(2.0, 1.0, 1.0)"


def test_the_chains_written_apart_still_give_the_values_in_the_table():
    expected = {
        target: [check.expected for check in checks_of(target) if "apart.py" in check.source]
        for target in public_targets()
    }
    lighting = [apart.turbine_point(apart.RIG, apart.WATER, travel, 9.5, "Colebrook")
                for travel in (1.0, 0.5, 0.3)]
    found = expected["generation.TurbineSet.steady"]
    assert found == pytest.approx([value for point in lighting for value in point], rel=1e-9)
    assert expected["generation.TurbineSet.travel_for_frac"] == [1.0, 0.5, 0.3]
    flows = expected["generation.TurbineSet.flow_for_lamps_m3_s"]
    assert flows == pytest.approx([point[0] for point in lighting], rel=1e-9)
    suns = [check.args[1:3] for check in checks_of("solar_pump.SolarPump.steady")[::4]]
    lifting = [apart.Pump(apart.RIG, apart.WATER, irradiance, cell_degC, "Colebrook").point(11.0)
               for irradiance, cell_degC in suns]
    found = expected["solar_pump.SolarPump.steady"]
    assert found == pytest.approx([value for point in lifting for value in point], rel=1e-9)
