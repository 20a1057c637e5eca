"""What survives a cut of the board's supply, and a battery that runs flat."""

import pytest

from forebay.twin.effects import apply
from keeper import modes
from keeper.operation import orders
from keeper.protection.elements import number
from keeper.retained_files import RetainedFiles
from tests.twin.remembering import SUN, press, remembering
from tests.twin.rigs import PUMPING, in_state, run_until, twin


def test_an_unknown_past_keeps_everything_off_until_a_person_has_pressed(tmp_path):
    one = twin(tmp_path, SUN, open_memory=lambda: RetainedFiles(str(tmp_path / "rig")))
    one.run(3000)
    assert one.plant.up.volume_m3 == 0
    press(one)
    run_until(one, PUMPING, 4000)  # the counter of starts runs out first


def test_a_lockout_is_still_there_after_the_supply_was_cut(tmp_path):
    one = remembering(tmp_path)
    apply("over-full-cut", one.plant, one.leads)
    one.keeper.core.sequence.lockout.retries[number("71HH-UP") - 1] = 0
    one.run(300)
    assert one.keeper.lockouts
    one.cut()
    one.leads.odd.clear()
    run_until(one, lambda it: it.powered, 700)
    one.run(300)
    assert one.keeper.lockouts
    # Only at the rig: an order does not do, the button does.
    assert one.keeper.order(orders.RESET, 1, 0) == orders.ONLY_AT_RIG
    press(one)
    assert not one.keeper.lockouts


def test_heat_and_starts_are_not_forgotten_in_a_cut(tmp_path):
    one = remembering(tmp_path)
    run_until(one, PUMPING, 4000)
    one.run(8000)  # what creeps is saved ten minutes after the start's mark was taken off
    milli, heat = one.keeper.core.derived.starts.milli, one.keeper.core.derived.heat.heat
    assert min(milli, heat) > 0
    one.cut()
    run_until(one, lambda it: it.powered, 700)
    derived = one.keeper.core.derived
    assert derived.starts.milli == pytest.approx(milli, abs=4000)
    assert derived.heat.heat == pytest.approx(heat, abs=0.1 * derived.heat.FULL)


def test_a_flat_battery_stops_the_rig_before_the_board_dies_and_dawn_starts_it_again(tmp_path):
    changes = {"supply.start_charge_frac": 0.02, "supply.capacity_Ah": 0.2,
               "supply.charge_current_A": 0.05}
    lit = 40   # minutes of darkness, then the sun
    sun = ([0.0] * lit + [800.0] * 1401, [20.0] * 1441, [14.0] * 1441)
    one = twin(tmp_path, sun, {"upper.start_volume_m3": 0.5, **changes})
    acted = died = False
    for _ in range(lit * 600):
        one.step()
        acted = acted or bool(one.keeper.acting >> number("27-SUP") - 1 & 1)
        if not one.powered:
            died = True
            assert acted, "the board died before 27-SUP had acted"
            assert not one.plant.pump_commanded
    assert died
    assert one.plant.down.position == 0
    run_until(one, in_state(modes.PUMPING), 8 * 3600)


@pytest.mark.parametrize("stall_s", [0.14, 1.2])
def test_every_write_to_flash_makes_the_next_scans_late(tmp_path, stall_s):
    one = twin(tmp_path, SUN, stall_s=stall_s)
    one.run(3000)
    assert one.stalls > 5
    missed = int(stall_s * 10)
    # The last stall may still be under way.
    assert 0 <= one.stalls * missed - (one.periods - one.scans) <= missed * 2
    assert one.keeper.uptime_ds == pytest.approx(3000, abs=missed + 2)
    # What flowed meanwhile has been counted.
    assert one.keeper.totals.low[6] * 1e-9 == pytest.approx(one.plant.up.volume_m3, rel=0.05)
