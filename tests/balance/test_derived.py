"""What a litre takes and gives, what was lost where, and what went over the rim."""

from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forebay.balance import balance_of
from forebay.balance.derived import LEAST_L, LOSSES, SPECIFIC, SPILL, YIELDS, derived
from forebay.balance.measured import Measured
from forebay.balance.ways import BOUNDS, IDLE, MEASURED, MODEL, TANGLED, UNKNOWN, Told
from keeper import channels as ch
from keeper.modes import PUMPING, STANDSTILL
from tests.balance import rig as plant
from tests.balance.small import journal, kept, rows, totals
from tests.balance.test_periods import clock

METER = Told(MEASURED, "its meter")
RATED_W = 100.0
DRY = Told(MEASURED, "the level"), Measured(0.0)
OVERFLOW_MM = 1000  # of the demo's tank: 1000 L on a square metre


def figures(told=None, rests=None, **values):
    """Stands for the figures of a balance: values [J], [L] by key; told, where not by a meter."""
    known = {key: None if value is None else Measured(float(value)).with_part(key, 0.01 * value)
             for key, value in values.items()}
    return SimpleNamespace(values=known, told={**dict.fromkeys(known, METER), **(told or {})},
                           rests=lambda key: (rests or {}).get(key, {key}))


FULL = {"panel": 4500, "pump": 3600, "up": 10, "lamps": 180, "down": 12, "stored": 900,
        "released": 1000, "generator": 200, "charge": 800, "supply_in": 400, "supply_out": 150,
        "board_load": 250}


def of(one):
    return derived(one, DRY, RATED_W)


def test_figures_are_what_their_names_say():
    found = of(figures(**FULL))
    assert {key: one and one.value for key, one in found.specific.items()} == {
        "lift_J_L": 360, "light_J_L": 15}
    assert {key: one and one.value for key, one in found.losses.items()} == {
        "pump_set": 2700, "turbine_set": 800, "charger": 300, "battery": 250}
    # 1 % of each, independent: in quadrature.
    loss, lift = found.losses["pump_set"], found.specific["lift_J_L"]
    assert loss is not None
    assert lift is not None
    assert loss.u == pytest.approx((36**2 + 9**2) ** 0.5)
    assert lift.u == pytest.approx(360 * 0.01 * 2**0.5)
    assert {one.kind for key, one in found.told.items()} == {MEASURED}


@pytest.mark.parametrize(("day_kWh", "published_h"), [(335.48, 1.96), (869.68, 5.07)])
def test_the_array_yield_is_that_of_a_published_plant(day_kWh, published_h):
    """IEC 61724-1, Y = E / P_0, of a plant of 171.36 kWp: the poorest and the best month's day of
    E. Kymakis, S. Kalykakis, T. M. Papazoglou, Performance analysis of a grid connected
    photovoltaic park on the island of Crete, Energy Conversion and Management 50 (2009) 433.
    Figures from memory; one in the last digit may differ, as 5.07 there was cut, not rounded.
    The energy is what left the plant: the same quotient, final there, of the array here."""
    rated_W, J_per_kWh, last_digit_h = 171.36e3, 3.6e6, 0.01
    found = derived(figures(**{**FULL, "panel": day_kWh * J_per_kWh}), DRY,
                    rated_W).yields["array_h"]
    assert found
    assert found.value == pytest.approx(published_h, abs=last_digit_h)
    assert found.u == pytest.approx(0.01 * found.value)  # as the energy's, in `figures`


def test_a_balance_has_the_yield_by_the_panel_of_its_description():
    """By hand: the plant of `rig` takes 18 W and 2.4 W of its panel of 100 W for 4000 s."""
    values = plant.DEMO.plant()
    rated_W = values["panel.best_voltage_V"] * values["panel.best_current_A"]
    found = balance_of(plant.journal_of(plant.Errors()), plant.clock(), plant.DEMO).derived
    assert found is not None
    value = found.yields["array_h"]
    assert value
    assert value.value == pytest.approx(20.4 * 4000 / rated_W / 3600, rel=2e-3)
    assert 95 < rated_W < 105  # the demo's panel is of 100 W


@pytest.mark.parametrize("lacking", sorted(FULL))
def test_what_rests_on_an_unknown_figure_is_unknown_for_its_reason(lacking):
    why = Told(UNKNOWN, "no meter of it")
    found = of(figures({lacking: why}, **{**FULL, lacking: None}))
    for one in (*SPECIFIC, *YIELDS, *LOSSES):
        values = {**found.specific, **found.yields, **found.losses}
        if lacking in one.uses:
            assert (found.told[one.key], values[one.key]) == (why, None)
        else:
            assert values[one.key] is not None


def test_a_difference_of_two_that_follow_from_one_another_tells_nothing():
    told = {"released": Told(MODEL, "let down"), "generator": Told(MODEL, "lamps and clamp")}
    apart = of(figures(told, **FULL))
    assert apart.told["turbine_set"].kind == MODEL
    both = of(figures(told, {"released": {"released", "lamps"}, "generator": {"lamps"}}, **FULL))
    assert both.told["turbine_set"] == Told(UNKNOWN, TANGLED)
    assert both.losses["turbine_set"] is None


@given(st.floats(0, LEAST_L))
def test_joules_over_hardly_any_water_are_no_figure(litres):
    assert of(figures(**{**FULL, "up": litres})).specific["lift_J_L"] is None


# What went over the rim ------------------------------------------------------------------------


def told(level_mm, contacts, state=PUMPING, without=()):
    """How much spilled in 100 s of 50 mL/s with this level and these contacts."""
    made = rows(*[(1, 100 * (n + 1), 100, state, {ch.LEVEL_MM: level_mm, ch.FLOW_UP: 500})
                  for n in range(10)])
    made.contacts[:] = contacts
    ran_ms = 100_000 * (state == PUMPING)
    one = journal(made, None, kept((1, 0, totals()), (1, 1000, totals(
        up=5_000_000, pump_ms=ran_ms))))
    sensors = SimpleNamespace(**{**vars(plant.DEMO.sensors), **dict.fromkeys(without, "absent")})
    rig = SimpleNamespace(**{**vars(plant.DEMO), "sensors": sensors})
    found = balance_of(one, clock((1, 0)), rig).derived
    assert found is not None
    return found.spill[SPILL], found.told[SPILL]


CLOSED = 0b1111111  # no float is lifted
LIFTED = CLOSED & ~(1 << ch.C_71HH_UP - ch.COLUMNS)
FULL_ALONE = CLOSED & ~(1 << ch.C_71H_UP - ch.COLUMNS)


def test_below_the_overflow_nothing_spills():
    # Two standard uncertainties of 5 mm below it is still too near.
    for level_mm in (500, OVERFLOW_MM - 11):
        value, how = told(level_mm, CLOSED)
        assert (value, how.kind) == (Measured(0.0), MEASURED)
    assert told(OVERFLOW_MM - 10, CLOSED)[1].kind == BOUNDS


@pytest.mark.parametrize(("level_mm", "contacts"), [(OVERFLOW_MM, CLOSED), (500, LIFTED)])
def test_at_the_overflow_no_more_spills_than_was_pumped_up(level_mm, contacts):
    value, how = told(level_mm, contacts)
    assert value is None
    # 50 mL/s for 100 s, and twice the 2 % of the meter.
    assert (how.kind, how.low, how.high) == (BOUNDS, 0.0, pytest.approx(5 * 1.04))


def test_a_float_that_never_moved_while_the_pump_ran_tells_nothing_of_the_overflow():
    """It may be stuck: it used to be told that nothing spilled, and measured."""
    for without, contacts in ((("level",), CLOSED), (("level", "over_full_float"), CLOSED),
                              (("level",), FULL_ALONE)):
        value, how = told(-32768, contacts, without=without)
        # No more than came up: 5 L, and twice the 2 % of the meter.
        assert (value, how.kind, how.low, how.high) == (
            None, BOUNDS, 0.0, pytest.approx(5 * 1.04, rel=1e-3))
        assert "showed that it works" in how.by


def test_without_a_level_and_a_float_nobody_tells_and_a_pump_that_was_off_lifted_nothing():
    value, how = told(-32768, CLOSED, without=("level", "over_full_float", "full_float"))
    assert (value, how.kind) == (None, UNKNOWN)
    assert how.by == "no level sensor in the upper tank"
    value, how = told(-32768, LIFTED, state=STANDSTILL, without=("level",))
    assert (value, how.kind, how.by) == (Measured(0.0), MODEL, IDLE)
    value, how = told(500, LIFTED, state=STANDSTILL, without=("flow_up",))
    assert (value, how.kind) == (None, UNKNOWN)
    assert "no flow meter in the rising main" in how.by
