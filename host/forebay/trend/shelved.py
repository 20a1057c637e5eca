"""From a shelf to a trend: its days, one at a time, and the notes of its person."""

from collections.abc import Callable

from forebay.described import Descriptions
from forebay.expected.days import judged_days
from forebay.plan import lifting
from forebay.shelf import Shelf
from forebay.shelf.local import zone_at
from forebay.shelf.query import journal_between, no_rows
from forebay.trend.figures import Day, day_figures
from forebay.trend.found import Trend, trend_of

AROUND_S = 7200.0        # beside a day, so that none of its ends is cut
MOST_DAYS = 366          # of a trend: what the test for a change is made for


def _nobody(done: float, total: float) -> None:
    """Tell nobody."""


def days_of(shelf: Shelf, rigs: Descriptions, period: tuple[float, float] | None = None,
            progress: Callable[[float, float], None] = _nobody) -> list[Day]:
    """Return the figures of the last days of a rig, at most MOST_DAYS, in order of time.

    Each by the description of then.
    period: (begin, end) [s since 1970 UTC], None = all; progress: called with (days done, all).
    """
    clock = shelf.clock(rigs.rig_id)
    held = list(judged_days(journal_between(shelf, rigs.rig_id, period), clock, rigs))
    if period is not None:
        held = [one for one in held
                if one.begin_s >= period[0] and one.end_s <= period[1] + AROUND_S]
    held = held[-MOST_DAYS:]
    machines, found = {}, []
    for count, (day, begin_s, end_s, then) in enumerate(held):
        progress(count, len(held))
        if then.rig not in machines:
            machines[then.rig] = lifting.machine(then.rig.plant())
        journal = journal_between(shelf, rigs.rig_id, (begin_s - AROUND_S, end_s + AROUND_S))
        found.append(day_figures(journal, clock, then.rig, rigs.rig_id, day, (begin_s, end_s),
                                 machines[then.rig], then.came_s))
    return found


def trend_on(shelf: Shelf, rigs: Descriptions, period: tuple[float, float] | None = None,
             by_week: bool = False,
             progress: Callable[[float, float], None] = _nobody) -> Trend:
    """Return the trend of a rig on a shelf; ShelfError if it holds no whole day of it."""
    days = days_of(shelf, rigs, period, progress)
    if not days:
        raise no_rows(shelf, rigs.rig_id)
    notes = shelf.notes(rigs.rig_id, (days[0].begin_s, days[-1].end_s))
    return trend_of(rigs.newest.rig.name, days, notes, by_week, zone_at(rigs.newest.site))
