"""The campaign in short: a part of what `python -m tests.campaign.run` does in full."""

import os
import shutil
import sys

import pytest

from forebay.twin import faults
from keeper import modes
from tests.campaign import days, disabled, expected, pairs, run, singles, waivers
from tests.campaign.run import single_cases

# Cases that a minute has room for: what acts within seconds.  The slow ones
# (tank, heat, frost, level) are in the long form.
QUICK = [name for name in expected.NAMES if expected.first_of(name)
         and expected.within_s(name) <= 20 and name not in expected.SCENES]
WORST_S = singles.STALLS_S[-1]
TAKEN_OUT = ("37-PMP", "33-VLV", "48-SHT", "59-GEN", "3-MOT")
SEEDS = (2, 7)


def told(outcome):
    return f"{outcome.case}: {'; '.join(outcome.failures)}"


@pytest.mark.parametrize("name", QUICK)
def test_a_single_fault_meets_its_element_in_time_and_no_hazard(name):
    case = singles.Case(name, expected.state_of(name), stall_s=WORST_S)
    outcome = singles.run(case)
    assert not outcome.failures, told(outcome)
    assert outcome.first == expected.first_of(name)


@pytest.mark.parametrize("state", singles.STATES)
def test_a_fault_in_a_state_that_does_not_need_it_brings_no_hazard(state):
    outcome = singles.run(singles.Case("rotor-stalled", state, stall_s=0.14))
    assert not outcome.failures, told(outcome)


@pytest.mark.parametrize("element", TAKEN_OUT)
def test_an_element_that_is_taken_out_is_missed(element):
    noticed = disabled.notice(element)
    assert noticed.failures, noticed.case


def test_every_element_is_declared_by_a_case_of_the_long_form():
    paired = {one for pair in pairs.PAIRS for one in (pair.first, *pair.then)}
    assert [one for one in disabled.IDS if not disabled.cases_of(one) and one not in paired] == []


@pytest.mark.parametrize("number", [3, 4])
def test_a_reviewed_pair_leaves_what_it_names(number):
    failures, _ = pairs.run(pairs.PAIRS[number] if number == 3 else pairs.PAIRS[6],
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
    result = days.run(days.Day(seed, WORST_S))
    assert not result.failures, result
    if not result.fault:
        assert result.trips == result.lockouts == 0


def test_a_seed_reproduces_its_day():
    assert days.run(days.Day(8)) == days.run(days.Day(8))


def test_a_day_that_is_spoilt_is_seen():
    # Without the alarm of cold pipes nobody empties them; the day is as cold as a fault.
    assert days.run(days.Day(days.frosty_seed(), disabled=("23-CLD", "23-WTR"))).failures


@pytest.mark.parametrize("seed", [1003, 1005])
def test_a_dull_day_ends_without_trip_or_lockout(seed):
    # The whole week is a part of the long form.
    result = days.run(days.Day(seed, kind="dull week", with_faults=False))
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
    done = tmp_path / "done"
    short = ["days", "--days", "2", "--done", str(done)]
    assert run.main([*short, "--python", "here"]) == 0
    assert f"under {sys.implementation.name}" in capfd.readouterr().out
    here = [days.run(days.Day(seed, singles.STALLS_S[seed % 3])) for seed in (1, 2, 3)]
    assert done.read_text().splitlines() == [str(one.day) for one in here[:2]]
    if not shutil.which(run.FASTER):
        if os.environ.get("CI"):
            pytest.fail(f"{run.FASTER} is missing (apt install pypy3)")
        pytest.skip(f"{run.FASTER} is not here")
    short[2] = "3"
    assert run.main(short) == 0
    told = capfd.readouterr().out
    assert "under pypy" in told
    assert "days: 1 run, 0 not as declared" in told
    assert f"{here[2].lifted_L:.0f} L up" in told
    assert done.read_text().splitlines() == [str(one.day) for one in here]


def test_the_runner_says_by_its_exit_code_whether_all_is_as_declared(capsys, monkeypatch):
    few = [*FEW, "--python", "here"]
    assert run.main(few) == 0
    monkeypatch.setitem(expected.STATE_OF, modes.PUMP_MODE, modes.RUNNING)
    assert run.main(few) == 1
    assert "first none, expected 80-PMP" in capsys.readouterr().out
