"""What somebody did to a rig comes again, and what a record lacks is not guessed in silence.

What is expected was written down before it was played: what a person orders or presses is given
to the replayed keeper at its time, by what the journal tells of it; where the record's begin or
some of its rows are lost, what they would have told is undecided, and nothing else is wrong.
"""

from types import SimpleNamespace
from typing import Any

import pytest

from forebay.replay.comparing import fidelity
from forebay.replay.jobs import heat_at_begin, job_of, ran, retained_before
from forebay.rig import load
from keeper import channels as ch
from keeper import settings as st
from keeper.operation import orders
from keeper.protection.derived import HEAT_PER_PERMILLE, Heat
from keeper.protection.elements import THERMAL_TRIP, number
from tests.replay import lived
from tests.replay.lost import LOST_S, gap, late
from tests.replay.played import PERIODS_PER_S, PUMPING_S
from tests.replay.warm import stage

HOURS = 2.5


def again(days):
    values, knows_heat = retained_before(days, stage())
    came = ran(job_of(days, days.settings, retained=values,
                      heat=None if knows_heat else heat_at_begin(days)), python=stage())
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


@pytest.mark.parametrize(("share", "acted_s"), [(0.9, None), (1.1, None), (1.1, 300)])
def test_an_unknown_heat_is_as_hot_as_the_record_allows(share, acted_s):
    settings = load().settings()
    base_mA, tau_s = (settings[st.index(name)] for name in ("thermal_base_mA", "thermal_tau_s"))
    amps = int(share * base_mA)
    spells = [] if acted_s is None else [SimpleNamespace(number=number("49-MOT"),
                                                         acted=PERIODS_PER_S * acted_s)]
    channels = [[[0], [0.0]] for _ in range(ch.COLUMNS)]
    channels[ch.PUMP_MA] = [[0, 100000], [amps, amps]]
    end_s = 400
    days: Any = SimpleNamespace(
        begin=0, end=PERIODS_PER_S * end_s, settings=settings,
        waves=SimpleNamespace(spells=spells, channels=lambda: channels))
    # The keeper's own model takes it up.
    heat = Heat(base_mA, tau_s)
    heat.heat = heat_at_begin(days)
    course = []
    for _ in range(end_s):
        heat.pass_time(amps, PERIODS_PER_S)
        course.append(heat.heat)
    limit = THERMAL_TRIP * HEAT_PER_PERMILLE
    if acted_s is not None:
        # A trip of the record fixes it: there, within its delay of a second, it passes its limit.
        first = next(second for second, one in enumerate(course) if one > limit)
        assert first == pytest.approx(acted_s, abs=2)
    elif share < 1.0:
        assert max(course) < limit       # it only cools
        assert heat_at_begin(days) > 0.99 * limit
    else:
        assert max(course) == pytest.approx(limit, rel=0.01)     # a little more would have tripped
