"""What somebody did to a rig comes again, and what a record lacks is not guessed in silence.

What is expected was written down before it was played: what a person orders or presses is given
to the replayed keeper at its time, by what the journal tells of it; where the record's begin or
some of its rows are lost, what they would have told is undecided, and nothing else is wrong.
"""

from types import SimpleNamespace

import pytest

from forebay.replay.comparing import fidelity
from forebay.replay.jobs import heat_at_begin, job_of, ran, retained_before
from forebay.rig import load
from keeper import channels as ch
from keeper import settings as st
from keeper.operation import orders
from keeper.protection.derived import Heat
from keeper.protection.elements import number
from tests.replay import lived
from tests.replay.lost import LOST_S, gap, late
from tests.replay.played import PUMPING_S

HOURS = 2.5


def again(days):
    values, knows_heat = retained_before(days)
    came = ran(job_of(days, days.settings, retained=values,
                      heat=None if knows_heat else heat_at_begin(days)))
    return came, fidelity(days, came, knows_heat)[0]


def test_orders_presses_a_proof_and_a_power_cut_are_given_to_the_keeper_again():
    days = lived.span(lived.DAYS["all at once"])
    came, found = again(days)
    words = [one.words for one in found.reproduced]
    assert "26-MOT acted" in words                        # by a limit that only the proof had
    assert "maintenance left: order over" in words
    assert found.wrong == []
    assert found.swapped == []
    assert len(days.time.starts) == 2                     # before and after the cut
    assert [one[1] for one in came.told["found"]] == [0, 0]          # pressed brighter, twice
    # Of a rest the journal does not tell how long it was to be.
    assert [one.code for one in days.ordered.untold] == [orders.REST]


def test_where_rows_are_missing_the_rest_comes_again():
    days = gap(PUMPING_S - LOST_S, HOURS)
    assert len(days.time.gaps) == 1
    _, found = again(days)
    assert found.wrong == []
    assert len(found.reproduced) == found.recorded


@pytest.mark.parametrize("remembers", [False, True])
def test_a_record_that_begins_while_the_pump_runs_is_followed_once_it_runs(remembers):
    """It used to be taken for a welded switch, which locked out all that followed."""
    _, found = again(late(PUMPING_S - LOST_S, remembers, HOURS))
    assert found.wrong == []
    assert "26-MOT acted" in [one.words for one in found.reproduced]


@pytest.mark.parametrize("acted_s", [None, 900])
def test_an_unknown_heat_is_as_hot_as_the_record_allows(acted_s):
    settings = load().settings()
    base_mA, tau_s = (settings[st.index(name)] for name in ("thermal_base_mA", "thermal_tau_s"))
    amps = 0.9 * base_mA
    spells = [] if acted_s is None else [SimpleNamespace(number=number("49-MOT"),
                                                         acted=10 * acted_s)]
    channels = [[[0], [0.0]] for _ in range(ch.COLUMNS)]
    channels[ch.PUMP_MA] = [[0, 100000], [amps, amps]]
    days = SimpleNamespace(begin=0, end=60000, settings=settings, waves=SimpleNamespace(
        spells=spells, channels=lambda: channels))
    heat = Heat(base_mA, tau_s)
    heat.heat = heat_at_begin(days)
    hot = []
    for second in range(1, 6000):
        heat.pass_time(int(amps), 10)
        if heat.heat > 1001 * Heat.FULL // 1000:
            hot.append(second)
    # The keeper's own model reaches its limit when the record says so, else never.
    if acted_s is None:
        assert not hot
        assert heat_at_begin(days) > 0.99 * Heat.FULL    # it only cools at this current
