"""Energies at the electrical nodes: what is metered, seen in the dark, charged and clamped."""

import pytest

from forebay.balance.electric import Electric, nodes
from forebay.balance.instruments import Meters
from forebay.balance.measured import Measured
from keeper import channels as ch
from keeper.modes import STANDSTILL
from tests.balance import rig as plant
from tests.balance.small import journal, kept, rows, summed_up

DARK = {ch.PANEL_MV: 0, ch.PANEL_MA: 0, ch.SUPPLY_MV: 1280, ch.SUPPLY_MA: -16}
# In steps of the journal: 10 mV and 1 mA.
LIT = {ch.PANEL_MV: 2560, ch.PANEL_MA: 100, ch.SUPPLY_MV: 1280, ch.SUPPLY_MA: 84}
SPAN_S = 10.0
BEGUN_S = 1000  # the board runs since then: a valve that was pressed shut at its start is at rest


def ten(**joules):
    """The totals of a record, energies in J by the name of their total."""
    names = {"panel": ch.T_PANEL, "supply_in": ch.T_SUPPLY_IN, "supply_out": ch.T_SUPPLY_OUT}
    made = [0] * len(ch.TOTALS)
    for name, value in joules.items():
        made[names[name]] = round(1000 * value)
    return made


def part(readings, *records):
    """Electric of rows of 10 s with these readings and (uptime [s], totals) beside them."""
    made = rows(*[(1, 10 * BEGUN_S + 100 * (n + 1), 100, STANDSTILL, one)
                   for n, one in enumerate(readings)])
    one = journal(made, None, kept(*[(1, round(10 * (BEGUN_S + at_s)), energies)
                                     for at_s, energies in records]))
    return Electric(*summed_up(one, plant.DEMO), plant.DEMO, Meters(plant.DEMO.sensors))


def energies(*args):
    notes = []
    return part(*args).energies(notes), notes


def test_the_boards_load_is_what_the_battery_gave_while_nothing_charged_it():
    # 20 dark seconds: 4.4 J out, 0.4 J in by noise: 0.2 W; 20 s of sun beside them.
    found, notes = energies(
        [DARK, DARK, LIT, LIT], (0, ten()), (20, ten(supply_out=4.4, supply_in=0.4)),
        (40, ten(supply_out=4.4, supply_in=21.9)))
    assert found["board_load"].value == pytest.approx(0.2 * 40)
    assert notes == ["The board's load by day is taken as the one seen in the dark."]


def test_a_span_in_which_one_row_had_sun_tells_no_load():
    found, _ = energies(
        [DARK, DARK, DARK, LIT], (0, ten()), (20, ten(supply_out=4)),
        (40, ten(supply_out=6, supply_in=11)))
    assert found["board_load"].value == pytest.approx(0.2 * 40)


def test_a_row_that_is_not_read_is_no_dark_one():
    unread = {ch.SUPPLY_MV: 1280, ch.SUPPLY_MA: -16}
    found, _ = energies(
        [DARK, DARK, DARK, unread], (0, ten()), (20, ten(supply_out=4)),
        (40, ten(supply_out=6, supply_in=11)))
    assert found["board_load"].value == pytest.approx(0.2 * 40)


def test_a_span_without_a_row_tells_no_load():
    # After the last row sun may have shone.
    found, _ = energies([DARK, DARK], (0, ten()), (20, ten(supply_out=4)),
                        (60, ten(supply_out=4, supply_in=50)))
    assert found["board_load"].value == pytest.approx(0.2 * 60)


@pytest.mark.parametrize(("millivolts", "milliamps", "dark"), [
    (800, 3, True), (800, 4, False), (1300, 0, False), (0, 4, True), (250, 3, True)])
def test_sun_is_a_current_beyond_three_steps_or_a_voltage_above_the_batterys(
        millivolts, milliamps, dark):
    """A range of 10 A reads 4 mA in the dark; at dusk a charger passes 2 mA that nobody reads."""
    dim = {**DARK, ch.PANEL_MV: millivolts, ch.PANEL_MA: milliamps}
    found, notes = energies([dim, dim], (0, ten()), (20, ten(supply_out=5)))
    assert found["board_load"].value == pytest.approx(5 if dark else 0.2 * 20)
    assert len(notes) == 1


def test_the_charger_takes_the_batterys_current_at_the_panels_voltage():
    # 84 mA into the battery and 16 mA past it to the board: 0.1 A at 25.6 V, 20 s.
    found, _ = energies(
        [DARK, DARK, LIT, LIT], (0, ten()), (20, ten(supply_out=4.096)),
        (40, ten(supply_out=4.096, supply_in=0.084 * 12.8 * 20)))
    assert found["charge"].value == pytest.approx(0.1 * 25.6 * 20, rel=1e-3)


def test_the_chargers_ratio_is_weighted_by_what_it_passes():
    # 40 mA at 20 V, 120 mA at 25 V beside a load of 20 mA, the battery at 12.5 V.
    def lit(volts, milliamps):
        return {ch.PANEL_MV: 100 * volts, ch.PANEL_MA: 200, ch.SUPPLY_MV: 1250,
                ch.SUPPLY_MA: milliamps}

    found, _ = energies(
        [{**DARK, ch.SUPPLY_MV: 1250, ch.SUPPLY_MA: -20}, lit(20, -20), lit(20, 20), lit(25, 100)],
        (0, ten()), (10, ten(supply_out=2.5)),
        (40, ten(supply_out=5.0, supply_in=(0.02 + 0.1) * 12.5 * 10)))
    assert found["charge"].value == pytest.approx((0.04 * 20 + 0.12 * 25) * 10, rel=1e-3)


def test_a_load_that_is_larger_at_night_does_not_move_the_chargers_ratio():
    # By day nothing passes in the first row: 20 mA are the load there, 40 mA in the dark.
    def lit(volts, milliamps):
        return {ch.PANEL_MV: 100 * volts, ch.PANEL_MA: 200, ch.SUPPLY_MV: 1250,
                ch.SUPPLY_MA: milliamps}

    night = {**DARK, ch.SUPPLY_MV: 1250, ch.SUPPLY_MA: -40}
    one = part([night, lit(15, -20), lit(20, 20), lit(25, 100)], (0, ten()), (40, ten()))
    ratio = one.panel_volts_a_supply_volt(Measured(0.5))
    assert ratio.value == pytest.approx((0.04 * 20 + 0.12 * 25) / (0.16 * 12.5))


@pytest.mark.parametrize("change", [
    {ch.SUPPLY_MV: -32768}, {ch.SUPPLY_MA: -32768}, {ch.SUPPLY_MV: 0}, {ch.SUPPLY_MA: 0}])
def test_nothing_known_of_the_charger_is_nothing_charged(change):
    lit = {**LIT, **change}
    found, _ = energies([lit, lit], (0, ten()), (20, ten(supply_in=20)))
    assert found["charge"].value == 0


def test_a_row_whose_supply_is_not_read_weighs_nothing():
    bad = {**LIT, ch.PANEL_MV: 100, ch.SUPPLY_MA: -32768}
    found, _ = energies(
        [DARK, LIT, bad], (0, ten()), (10, ten(supply_out=2.048)),
        (30, ten(supply_out=2.048, supply_in=0.084 * 12.8 * 20)))
    assert found["charge"].value == pytest.approx(0.1 * 25.6 * 20, rel=1e-3)


@pytest.mark.parametrize(("milliamps", "watts"), [(50, 0.3 * 15.6), (0, 0.0), (-32768, 0.0)])
def test_the_clamp_heats_only_while_the_generator_drives(milliamps, watts):
    # 15.6 V on a clamp of 15 V and 2 ohm: 0.3 A.
    row = {ch.GENERATOR_MV: 1560, ch.GENERATOR_MA: milliamps}
    found, _ = energies([row, row], (0, ten()), (20, ten()))
    assert found["clamp"].value == pytest.approx(watts * 20)


def test_a_voltage_below_the_clamps_heats_nothing():
    row = {ch.GENERATOR_MV: 1490, ch.GENERATOR_MA: 50}
    found, _ = energies([row], (0, ten()), (10, ten()))
    assert found["clamp"].value == found["clamp"].u == 0


def test_noise_and_rounding_count_while_current_flowed_by_root_mean_squares():
    # 3 A for 10 s and 1 A for 20 s at 20 V: mean square (9 x 10 + 1 x 20) / 30 s.
    def lit(milliamps):
        return {ch.PANEL_MV: 2000, ch.PANEL_MA: milliamps}

    readings = [lit(3000), lit(1000), lit(1000), {ch.PANEL_MV: 2000, ch.PANEL_MA: 2}]
    assert part(readings, (0, ten())).sums.flowed[0].all.rms == pytest.approx(
        (20.0, (110 / 30) ** 0.5, 30.0))
    steady = part(readings[1:], (0, ten())).sums.flowed[0].all
    assert steady.rms == pytest.approx((20.0, 1.0, 20.0))
    assert part(readings[3:], (0, ten())).sums.flowed[0].all.rms == (0.0, 0.0, 0.0)


def test_the_nodes_are_what_is_left_over():
    some = {name: Measured(float(value)) for name, value in (
        ("panel", 100), ("pump", 70), ("charge", 25), ("generator", 50), ("lamps", 40),
        ("clamp", 7))}
    found = nodes(some)
    assert {name: one.value for name, one in found.items()} == {
        "panel_node": 5, "generator_node": 3}


def test_a_count_of_noise_where_nothing_flowed_is_no_fault():
    # A morning without light once read "does not close (89.4 u)": 1 mJ in the generator's total.
    found, _ = energies([DARK, DARK], (0, ten()), (20, ten(panel=0.001, supply_out=4.0)))
    generator = dict.fromkeys(("generator", "lamps", "clamp"), Measured(0.0))
    left = nodes({**found, **generator, "generator": found["panel"]})
    left_J = left["generator_node"]
    assert abs(left_J.value) < 0.01 * left_J.u


def test_with_the_load_lost_at_runaway_the_clamp_takes_all_that_the_generator_gives():
    # Lamps off, 17 V at a clamp of 2 ohm that begins at 15 V: 1 A, 17 W for 20 s.
    runaway = {**DARK, ch.GENERATOR_MV: 1700, ch.GENERATOR_MA: 1000, ch.LAMP_MA: 0}
    end = ten(supply_out=4)
    end[ch.T_GENERATOR] = round(1000 * 17 * 20)
    found, _ = energies([runaway, runaway], (0, ten()), (20, end))
    assert found["clamp"].value == pytest.approx(17 * 20)
    assert found["lamps"].value == 0
    left = nodes(found)["generator_node"]
    assert abs(left.value) < 1e-6
    # By the generator's volts alone: 0.5 % of (2 x 17 - 15) / 2 x 17 W in the clamp.
    assert found["clamp"].parts["EI-GEN"] == pytest.approx(0.005 * 19 / 2 * 17 * 20)
