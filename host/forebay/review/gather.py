"""What a review shows: gathered once, then drawn as a page or as text."""

from dataclasses import dataclass, field
from datetime import tzinfo

import numpy as np

from forebay.balance import Balance, balance_of
from forebay.balance.compute import within
from forebay.balance.spans import keys_of, uptime_of
from forebay.review.words import Event, events_of
from forebay.rig import remaining, summary
from forebay.rig.instruments import fitted
from forebay.shelf import Shelf
from forebay.shelf.certainty import TELLING_BOUND_S, contacts_said
from forebay.shelf.local import bound_text, iso_local, zone_at
from forebay.shelf.query import fitted_of, journal_between, no_rows
from forebay.shelf.told import rehearsal_said
from keeper import channels as ch

MOST_STRETCHES = 4  # that are told one by one


@dataclass
class Series:
    """What the plot shows: one value a row.

    utc_s [s since 1970 UTC, NaN unknown], panel_W, pump_W, lamp_W [W],
    level_m [m], motor_degC [degC]; NaN where not trusted or not there.  state [-].
    floats: name and whether it says so, of each float of the upper tank that is there.
    """

    utc_s: np.ndarray
    panel_W: np.ndarray
    pump_W: np.ndarray
    lamp_W: np.ndarray
    level_m: np.ndarray
    motor_degC: np.ndarray
    state: np.ndarray
    floats: list[tuple[str, np.ndarray]]


@dataclass
class Review:
    """Everything on the page.  zone: the one its times are told in; tank_height_m [m].

    lacking, lacking_short: what the rig lacks and what is in its place, in lines; [] = nothing.
    """

    name: str
    zone: tzinfo
    balance: Balance
    series: Series
    events: list[Event]
    tank_height_m: float
    notes: list[str] = field(default_factory=list)
    lacking: list[str] = field(default_factory=list)
    lacking_short: list[str] = field(default_factory=list)

    def time(self, utc_s: float | None, form: str = "%H:%M") -> str:
        """Return a time [s since 1970 UTC] in the review's zone; "time unknown" if it is not."""
        return iso_local(utc_s, self.zone, form)

    def covers(self, form: str) -> str:
        """Return from when to when its figures are, each stretch apart; form: as for strftime."""
        told = [f"{self.time(begin, form)} to {self.time(end, form)}"
                for begin, end in self.balance.stretches_s]
        left = len(told) - MOST_STRETCHES
        return "; ".join(told[:MOST_STRETCHES]) + (
            f"; and {left} more stretches, to {self.time(self.balance.end_utc_s, form)}"
            if left > 0 else "")

    def offset(self) -> str:
        """Return the zone's offset from UTC, both where the clocks change in the period."""
        first, last = (self.time(when_s, "UTC%z") for when_s in (
            self.balance.begin_utc_s, self.balance.end_utc_s))
        return first if first == last else f"{first}, later {last}"


def review_of(shelf: Shelf, rig, rig_id: int | None = None, zone: tzinfo | None = None,
              period=None, notes=()) -> Review:
    """Return the review of one rig on a shelf.

    rig: its description; rig_id: None = the only one; zone: for local times,
    None = that of its site; period: (begin, end) [s since 1970 UTC], None =
    all; notes: what was assumed elsewhere.
    Raises ShelfError if there is no such rig, or no row of it in the period.
    """
    rig_id = shelf.only_rig() if rig_id is None else rig_id
    zone = zone or zone_at(rig.site)
    journal = journal_between(shelf, rig_id, period)
    clock = shelf.clock(rig_id)
    if period:
        journal = within(journal, clock, period)
    if not len(journal.rows):
        raise no_rows(shelf, rig_id, zone)
    found = balance_of(journal, clock, rig, rig_id)
    found.notes[:0] = rehearsal_said(shelf, rig_id)
    notes = [*notes, *[one for told in shelf.rehearsed(rig_id) for one in told.assumed]]
    rows = journal.rows.take(_by_time(journal.rows, clock))
    table = journal.events[_by_time(journal.events, clock)]
    when = clock.utc(rows.generation, rows.boot, rows.uptime_ds)
    event_times = clock.times(table["generation"], table["boot"], table["uptime_ds"])
    lacked = fitted_of(shelf, rig_id).absent(table["generation"], table["boot"])
    return Review(
        name=rig.rig.name,
        zone=zone,
        balance=found,
        series=_series(rows, when, fitted(rig.sensors)),
        events=_with_bounds(events_of(table, event_times.utc_s, lacked), event_times),
        tank_height_m=rig.upper.height_m,
        notes=[*notes, *found.notes, *contacts_said(clock, zone)],
        lacking=summary.full(rig.plant()) if remaining.absent(rig.plant()) else [],
        lacking_short=summary.short(rig.plant()),
    )


def _by_time(table, clock):
    """Return the places [-] of rows or events by time; boards may have taken turns."""
    if len(set(clock.boards.values())) < 2:
        return slice(None)
    key = keys_of(table)
    return np.argsort(clock.utc(key >> 16, key & 0xFFFF, uptime_of(table)), kind="stable")


def _with_bounds(found, times):
    """Return events, those at uncertain times with the bound in their words."""
    bounds = dict(zip(times.utc_s.tolist(), times.bound_s.tolist(), strict=True))
    for one in found:
        bound_s = bounds.get(one.utc_s, 0.0)
        if bound_s > TELLING_BOUND_S:
            one.text += f" (Time {bound_text(bound_s)}.)"
    return found


# instrument, its contact, what that reads when it says so, the words for it
FLOATS = (
    ("full_float", ch.C_71H_UP, 0, "tank full"),
    ("empty_float", ch.C_71L_UP, 0, "empty"),
)


def _series(rows, utc_s, there):
    panel_V, generator_V = rows.si(ch.PANEL_MV), rows.si(ch.GENERATOR_MV)
    return Series(
        utc_s=utc_s,
        panel_W=panel_V * rows.si(ch.PANEL_MA),
        pump_W=panel_V * rows.si(ch.PUMP_MA),
        lamp_W=generator_V * rows.si(ch.LAMP_MA),
        level_m=rows.si(ch.LEVEL_MM),
        motor_degC=rows.si(ch.MOTOR_MDEGC),
        state=rows.state,
        floats=[(words, (rows.contacts >> (place - ch.COLUMNS) & 1) == says)
                for name, place, says, words in FLOATS if name in there],
    )
