"""What a review shows: gathered once, then drawn as a page or as text."""

from dataclasses import dataclass, field
from datetime import tzinfo

import numpy as np

from forebay.balance import Balance, balance
from forebay.balance.compute import within
from forebay.balance.spans import keys_of, uptime_of
from forebay.review.coming import coming
from forebay.review.daylight import WENT_DARK
from forebay.review.finding import Finding, Record
from forebay.review.firstout import FirstOut, first_out
from forebay.review.held import belied
from forebay.review.lead import lead
from forebay.review.sections import Section
from forebay.review.standing import standing_of
from forebay.review.verdict import Night
from forebay.review.words import GRAVE, Event, events_of
from forebay.rig import remaining, summary
from forebay.rig.instruments import fitted
from forebay.shelf import Shelf
from forebay.shelf.certainty import TELLING_BOUND_S, contacts_said
from forebay.shelf.local import bound_text, iso_local, zone_at
from forebay.shelf.query import events_between, fitted_of, journal_between, no_rows, reach
from forebay.shelf.told import Note, Rehearsed, rehearsal_said
from keeper import channels as ch
from keeper.modes import RUNNING

MOST_STRETCHES = 4  # that are told one by one


@dataclass
class Series:
    """What the plot shows: one value a row.

    utc_s [s since 1970 UTC, NaN unknown], power [W], volts [V], flow [L/min], level_m [m],
    temperature [degC], valve [%] by the letters of their units; NaN where not trusted or not
    there.  state [-].  setpoint_W: what was planned for the lamps, NaN without light.
    floats: name and whether it says so, of each float of the upper tank that is there.
    """

    utc_s: np.ndarray
    panel_W: np.ndarray
    pump_W: np.ndarray
    generator_W: np.ndarray
    lamp_W: np.ndarray
    setpoint_W: np.ndarray
    up_L_min: np.ndarray
    down_L_min: np.ndarray
    level_m: np.ndarray
    motor_degC: np.ndarray
    water_degC: np.ndarray
    panel_V: np.ndarray
    generator_V: np.ndarray
    supply_V: np.ndarray
    valve_percent: np.ndarray
    state: np.ndarray
    floats: list[tuple[str, np.ndarray]]


@dataclass
class Review:
    """Everything on the page.  zone: the one its times are told in; tank_height_m [m].

    lacking, lacking_short: what the rig lacks and what is in its place, in lines; [] = nothing.
    verdict, findings: what matters first (`forebay.review.lead`); coming: what it means for
    the coming day; first_out: the trip to look
    at first, None = none; told: notes of a person in its time; rehearsed: [] = a real rig.
    trend, expected: sections that others work out, None = not known; available: what the sun
    could have given: (times [s since 1970 UTC], power [W]), None = not known.
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
    verdict: Night | None = None
    findings: list[Finding] = field(default_factory=list)
    coming: str = ""
    first_out: FirstOut | None = None
    told: list[Note] = field(default_factory=list)
    rehearsed: list[Rehearsed] = field(default_factory=list)
    there: frozenset[str] = frozenset()
    trend: Section | None = None
    expected: Section | None = None
    available: tuple[np.ndarray, np.ndarray] | None = None

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
    found = balance(shelf, rig, rig_id, period)
    found.notes[:0] = rehearsal_said(shelf, rig_id)
    told = shelf.rehearsed(rig_id)
    rows = journal.rows.take(_by_time(journal.rows, clock))
    table = journal.events[_by_time(journal.events, clock)]
    when = clock.utc(rows.generation, rows.boot, rows.uptime_ds)
    event_times = clock.times(table["generation"], table["boot"], table["uptime_ds"])
    lacked = fitted_of(shelf, rig_id).absent(table["generation"], table["boot"])
    record = _record(shelf, rig, rig_id, zone, period, journal, found, told, rows, when)
    verdict, findings = lead(record)
    plans = record.standing.plans
    return Review(
        name=rig.rig.name,
        zone=zone,
        balance=found,
        series=series_of(rows, when, record.there, plans, record.set_power_W),
        events=_marked(_with_bounds(events_of(table, event_times.utc_s, lacked, belied(record)),
                                    event_times), findings),
        tank_height_m=rig.upper.height_m,
        notes=[*notes, *[line for one in told for line in one.assumed], *found.notes,
               *contacts_said(clock, zone)],
        lacking=summary.full(rig.plant()) if remaining.absent(rig.plant()) else [],
        lacking_short=summary.short(rig.plant()),
        verdict=verdict, findings=findings, coming=coming(record, belied(record)),
        first_out=first_out(table, event_times.utc_s, lacked),
        told=shelf.notes(rig_id, _reach(record)),
        rehearsed=told,
        there=record.there,
    )


def _record(shelf, rig, rig_id, zone, period, journal, found, told, rows, when):
    """Return what the lead is made of: this time, and how the events before it left things."""
    begin_s, end_s = found.begin_utc_s, found.end_utc_s
    begin_s = np.nan if begin_s is None else begin_s
    end_s = np.nan if end_s is None else end_s
    clock = shelf.clock(rig_id)
    table = journal.events
    held = reach(shelf, rig_id) if period else None
    if period:
        before = (-np.inf, period[1])
        table, _ = events_between(shelf, rig_id, before)
    table = table[_by_time(table, clock)]
    times_s = clock.utc(table["generation"], table["boot"], table["uptime_ds"])
    place = next((one.place for one in told if one.place), None)
    plant = rig.plant()
    standing = standing_of(table, times_s, begin_s)
    return Record(
        plant=plant, there=frozenset(fitted(rig.sensors)), rows=rows, when_s=when,
        begin_s=begin_s, end_s=end_s, zone=zone, balance=found, journal=journal.findings,
        standing=standing, rehearsed=told, off_s=_off_s(clock, standing, rows),
        place=place or (rig.site.latitude_deg, rig.site.longitude_deg),
        set_power_W=plant["night.setpoint_W"],
        goes_on=bool(period and held and held[1] > period[1]))


def _off_s(clock, standing, rows):
    """Return between what lengths [s] the board was off before its last start, None = unknown.

    It ran until its last row at least, and for no longer than a row more.
    """
    if not standing.starts:
        return None
    start = standing.starts[-1][0]
    key = int(start["generation"]) << 16 | int(start["boot"])
    before = np.flatnonzero(keys_of(rows) < key)
    if not len(before):
        return None
    last = before[-1:]
    ended = clock.times(rows.generation[last], rows.boot[last], uptime_of(rows)[last])
    began = clock.times(*([int(start[name])] for name in ("generation", "boot", "uptime_ds")))
    least_s = float((began.earliest_s - ended.latest_s)[0])
    most_s = float((began.latest_s - ended.earliest_s)[0])
    return (max(least_s, 0.0), most_s) if most_s >= 0 else None


def _reach(record):
    """Return the time in which a note belongs to a review, None = always: it has no times."""
    if not np.isfinite(record.begin_s + record.end_s):
        return None
    return record.begin_s, record.end_s + 1.0


def _by_time(table, clock):
    """Return the places [-] of rows or events by time; boards may have taken turns."""
    if len(set(clock.boards.values())) < 2:
        return slice(None)
    key = keys_of(table)
    return np.argsort(clock.utc(key >> 16, key & 0xFFFF, uptime_of(table)), kind="stable")


def _marked(found, findings):
    """Return events, with what no event tells but a finding does in its place."""
    silent = [Event(one.utc_s, f"{WENT_DARK}.", GRAVE) for one in findings
              if one.utc_s is not None and one.what.startswith(WENT_DARK)]
    return sorted([*found, *silent], key=lambda one: one.utc_s) if silent else found


def _with_bounds(found, times):
    """Return events, those at uncertain times with the bound in their words.

    That a time is not bounded at all is told once, among what matters first.
    """
    bounds = dict(zip(times.utc_s.tolist(), times.bound_s.tolist(), strict=True))
    for one in found:
        bound_s = bounds.get(one.utc_s, 0.0)
        if TELLING_BOUND_S < bound_s < np.inf:
            one.text += f" (Time {bound_text(bound_s)}.)"
    return found


# instrument, its contact, what that reads when it says so, the words for it
FLOATS = (
    ("full_float", ch.C_71H_UP, 0, "tank full"),
    ("empty_float", ch.C_71L_UP, 0, "empty"),
)


L_MIN_M3_S = 60e3
PERCENT = 100.0
MW_W = 1e3


def series_of(rows, utc_s, there, plans, set_power_W) -> Series:
    """Return what the plot shows of rows at times [s]; plans: of the light, then in force."""
    panel_V, generator_V = rows.si(ch.PANEL_MV), rows.si(ch.GENERATOR_MV)
    return Series(
        utc_s=utc_s,
        panel_W=panel_V * rows.si(ch.PANEL_MA),
        pump_W=panel_V * rows.si(ch.PUMP_MA),
        generator_W=generator_V * rows.si(ch.GENERATOR_MA),
        lamp_W=generator_V * rows.si(ch.LAMP_MA),
        setpoint_W=_setpoint_W(rows, utc_s, plans, set_power_W),
        up_L_min=rows.si(ch.FLOW_UP) * L_MIN_M3_S,
        down_L_min=rows.si(ch.FLOW_DOWN) * L_MIN_M3_S,
        level_m=rows.si(ch.LEVEL_MM),
        motor_degC=rows.si(ch.MOTOR_MDEGC),
        water_degC=rows.si(ch.WATER_MDEGC),
        panel_V=panel_V,
        generator_V=generator_V,
        supply_V=rows.si(ch.SUPPLY_MV),
        valve_percent=rows.si(ch.VALVE_PERMILLE) * PERCENT,
        state=rows.state,
        floats=[(words, (rows.contacts >> (place - ch.COLUMNS) & 1) == says)
                for name, place, says, words in FLOATS if name in there],
    )


def _setpoint_W(rows, utc_s, plans, set_power_W):
    """Return the lamp power that was planned in each row [W], NaN where no light was."""
    wanted = np.full(len(rows), set_power_W)
    for plan in plans:
        wanted[utc_s >= plan.utc_s] = plan.power_mW / MW_W
    return np.where(rows.state == RUNNING, wanted, np.nan)
