"""The campaign in short: a part of what `python -m tests.campaign.run` does in full."""

import os
import random
import shutil
import sys

import pytest

from forebay.rehearse import lesser as catalogue
from forebay.twin import faults
from keeper import channels as ch
from keeper import modes
from keeper.channels import VALVE_PERMILLE
from keeper.operation import orders
from keeper.protection.elements import STAND_INS
from tests.campaign import days, disabled, expected, lesser, pairs, run, singles, subsets, waivers
from tests.campaign.people import Script
from tests.campaign.run import single_cases
from tests.campaign.scene import staged
from tests.stories import told

# Cases that a minute has room for: what acts within seconds.  The slow ones
# (tank, heat, frost, level) are in the long form.
QUICK = [name for name in expected.NAMES if expected.first_of(name)
         and expected.within_s(name) <= 20 and name not in expected.SCENES]
WORST_S = singles.STALLS_S[-1]
TAKEN_OUT = ("37-PMP", "33-VLV", "48-SHT", "59-GEN", "3-MOT")
SEEDS = (2, 7)


def said(outcome):
    return f"{outcome.case}: {'; '.join(outcome.failures)}"


@pytest.mark.parametrize("name", QUICK)
def test_a_single_fault_meets_its_element_in_time_and_no_hazard(name):
    case = singles.Case(name, expected.state_of(name), stall_s=WORST_S)
    outcome = told(singles.run, case)
    assert not outcome.failures, said(outcome)
    assert outcome.first == expected.first_of(name)


# Together with what the twin's own sensor is off, within the 55 permille that may be learnt.
@pytest.mark.parametrize("off_permille", [-50, 30])
def test_a_position_off_by_what_may_be_learnt_drains_wide_open_again_and_again(off_permille):
    """Beyond 102 % it used to be no reading: the drain hunted until 48-VLV tripped."""
    twin = staged(modes.STANDSTILL)
    try:
        log = singles.Log(twin)
        own_permille = twin.keeper.core.positioner.zero
        twin.leads.adds(VALVE_PERMILLE, off_permille)
        for _ in range(2):  # what it reads too much is learnt between them
            assert twin.order(orders.DRAIN_DOWN, 1, 1) == orders.DONE
            assert twin.until(lambda one: one.plant.down.position > 0.99)
            for _ in range(1200):
                twin.step()
                log.follow()
            assert twin.plant.down.position == 0.0
        # A wheel that coasts teaches nothing, and what reads shut is not pressed again.
        learnt_permille = max(0, off_permille)
        assert twin.keeper.core.positioner.zero == pytest.approx(
            own_permille + learnt_permille, abs=3)
        assert log.unsaid == []
    finally:
        twin.close()


@pytest.mark.parametrize("state", singles.STATES)
def test_a_fault_in_a_state_that_does_not_need_it_brings_no_hazard(state):
    outcome = told(singles.run, singles.Case("rotor-stalled", state, stall_s=0.14))
    assert not outcome.failures, said(outcome)


@pytest.mark.parametrize("element", TAKEN_OUT)
def test_an_element_that_is_taken_out_is_missed(element):
    noticed = told(disabled.notice, element)
    assert noticed.failures, noticed.case


def test_every_element_is_declared_by_a_case_of_the_long_form():
    paired = {one for pair in pairs.PAIRS for one in (pair.first, *pair.then)}
    assert [one for one in disabled.IDS if not disabled.cases_of(one) and one not in paired] == []


def test_what_stands_in_is_declared_by_a_case_of_a_rig_with_less():
    declared = {one.element for rows in catalogue.INSTEAD.values() for one in rows}
    # These take hours and days: tests/keeper/test_standing_in.
    assert {name for name, _ in STAND_INS} - declared == {"48-FUL", "48-LOK"}


@pytest.mark.parametrize("number", [3, 4])
def test_a_reviewed_pair_leaves_what_it_names(number):
    failures, _ = told(pairs.run, pairs.PAIRS[number] if number == 3 else pairs.PAIRS[6],
                       WORST_S if number == 4 else 0.0)
    assert failures == ()


def test_every_pair_names_the_hardware_that_remains():
    for pair in pairs.PAIRS:
        assert len(pair.remains) > 10
        for name in pair.faults:
            assert name in faults.NAMES
    paired = {" + ".join(pair.faults) for pair in pairs.PAIRS}
    assert {name for name, _ in waivers.WAIVERS if " + " in name} <= paired


@pytest.mark.parametrize("seed", SEEDS)
def test_a_random_day_brings_no_hazard(seed):
    # On the demo's rig and coarse: fine days on random rigs are the long form's.
    result = told(days.run, days.Day(seed, WORST_S, coarse=True, demo=True))
    assert not result.failures, result
    if not result.fault:
        assert result.trips == result.lockouts == 0


def test_a_seed_reproduces_its_day():
    assert told(days.run, days.Day(8, coarse=True)) == told(days.run, days.Day(8, coarse=True))


def test_a_day_that_is_spoilt_is_seen():
    # Without the alarm of cold pipes nobody empties them; the day is as cold as a fault.
    assert told(days.run, days.Day(
        days.frosty_seed(), disabled=("23-CLD", "23-WTR"), coarse=True)).failures


@pytest.mark.parametrize("seed", [1003, 1005])
def test_a_dull_day_ends_without_trip_or_lockout(seed):
    # The whole week is a part of the long form.
    result = told(days.run, days.Day(seed, kind="dull week", with_faults=False, coarse=True,
                                     demo=True))
    assert not result.failures, result
    assert result.trips == result.lockouts == 0


def test_the_long_form_has_every_fault_in_every_state_and_every_stall():
    cases = single_cases()
    assert {(one.fault, one.state) for one in cases} == {
        (name, state) for name in faults.NAMES for state in range(len(modes.STATES))}
    for name in faults.NAMES:
        assert {one.stall_s for one in cases if one.fault == name} == set(singles.STALLS_S)


FEW = ["singles", "--faults", "meter-up-stopped", "--stall", "0", "--short", "--workers", "1"]


def test_the_long_form_runs_under_a_faster_interpreter_and_goes_on_where_it_ended(
    tmp_path, capfd
):
    assert run.main([*FEW, "--python", "here"]) == 0
    assert f"under {sys.implementation.name}" in capfd.readouterr().out
    if not shutil.which(run.FASTER):
        if os.environ.get("CI"):
            pytest.fail(f"{run.FASTER} is missing (apt install pypy3)")
        pytest.skip(f"{run.FASTER} is not here")
    done = tmp_path / "done"
    day = ["days", "--seed", "2", "--days", "1", "--done", str(done), "--workers", "1"]
    assert run.main(day) == 0
    assert "1 days of random rigs" in capfd.readouterr().out
    assert done.read_text().splitlines() == ["day 2, stall 1.2 s"]
    assert run.main(["singles", *day, *FEW[1:3], "--stall", "1.2", "--short"]) == 0
    text = capfd.readouterr().out
    assert "under pypy" in text
    assert "singles: 1 run, 0 not as declared" in text
    assert "days: 0 run, 0 not as declared" in text
    assert len(done.read_text().splitlines()) == 2


def test_every_random_day_is_lived_at_ten_hertz_most_on_a_rig_of_its_own():
    # Of a thousand at least a hundred are healthy and at least a hundred are the demo's.
    wanted = run._wanted_days(run.asked_for(["days", "--days", "1000"]))
    assert len(wanted) == len({str(one) for one in wanted}) == 1000
    assert not any(one.coarse for one in wanted)
    assert 600 < sum(one.is_drawn for one in wanted) < 900
    healthy = sum(not Script(random.Random(seed), True, [600]).fault for seed in range(1000))
    assert healthy > 100


def test_the_runner_says_by_its_exit_code_whether_all_is_as_declared(capsys, monkeypatch):
    few = [*FEW, "--python", "here"]
    assert run.main(few) == 0
    monkeypatch.setitem(expected.STATE_OF, modes.PUMP_MODE, modes.RUNNING)
    assert run.main(few) == 1
    assert "first none, expected 80-PMP" in capsys.readouterr().out


# On the modest demo's rig: by its warmth, by its lamps, by what it still reads, and by nothing.
@pytest.mark.parametrize("name", ["rotor-stalled", "hand-valve-shut", "load-lost",
                                  "lower-tank-dry", "valve-creeps", "pump-lead-open"])
def test_a_modest_rig_meets_a_fault_as_its_catalogue_says(name):
    outcome = told(singles.run, singles.Case(name, expected.state_of(name), rig=lesser.ORCHARD))
    assert not outcome.failures, said(outcome)
    assert outcome.first in outcome.case.wanted.firsts


def test_a_modest_rig_that_is_not_protected_is_seen():
    """Without what stands in for a sight of the rotor, the first to act is another, or none."""
    case = singles.Case("rotor-stalled", modes.PUMPING, rig=lesser.ORCHARD,
                        disabled=("14-HOT", "26-PMP", "26-MOT"))
    assert told(singles.run, case).first == ""


def test_subsets_of_instruments_are_drawn_from_their_number_alone():
    first, again = subsets.lesser("subset 2"), subsets.lesser("subset 2")
    assert first["settings"] == again["settings"]
    bits = {lesser.fitted(subsets.lesser(f"subset {number}")["settings"])
            for number in range(1, 7)}
    assert len(bits) == 6
    assert ch.ALL_FITTED not in bits
