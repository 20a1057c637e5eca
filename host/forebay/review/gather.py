"""What a review shows: gathered once, then drawn as a page or as text."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone, tzinfo

import numpy as np

from forebay.balance import Balance, balance_of
from forebay.review.words import Happening, happenings
from forebay.shelf import Shelf
from keeper import channels as ch

DEGREES_AN_HOUR = 15.0
LITRES = 1000.0

CAUTION = (
    "Hobby-grade, not a safety-rated system: it must not be the only thing that keeps water,"
    " heat or current in bounds. Electrics near water, loads on a stand and pressure in pipes"
    " follow your local codes; where they ask for a licensed person, so do we."
)


@dataclass
class Series:
    """What the plot shows: one value a row.

    utc_s [s since 1970 UTC, NaN unknown], panel_W, pump_W, lamp_W [W],
    level_m [m]; NaN where not trusted.  state [-].
    """

    utc_s: np.ndarray
    panel_W: np.ndarray
    pump_W: np.ndarray
    lamp_W: np.ndarray
    level_m: np.ndarray
    state: np.ndarray


@dataclass
class Review:
    """Everything on the page.  zone: the one its times are told in; tank_height_m [m]."""

    name: str
    zone: tzinfo
    balance: Balance
    series: Series
    happenings: list[Happening]
    tank_height_m: float
    notes: list[str] = field(default_factory=list)

    def time(self, utc_s: float | None, form: str = "%H:%M") -> str:
        """Return a time [s since 1970 UTC] in the review's zone; "time unknown" if it is not."""
        if utc_s is None or not np.isfinite(utc_s):
            return "time unknown"
        return datetime.fromtimestamp(utc_s, UTC).astimezone(self.zone).strftime(form)


def review_of(shelf: Shelf, rig, rig_id: int | None = None, zone: tzinfo | None = None,
              period=None, notes=()) -> Review:
    """Return the review of one rig on a shelf.

    rig: its description; rig_id: None = the only one; zone: for local times,
    None = the whole hours from UTC that its longitude gives; period: (begin,
    end) [s since 1970 UTC] of the balance, None = all; notes: what was
    assumed elsewhere.  Raises ShelfError if there is no such rig.
    """
    rig_id = shelf.only_rig() if rig_id is None else rig_id
    journal = shelf.journal(rig_id)
    clock = shelf.clock(rig_id)
    found = balance_of(journal, clock, rig, rig_id, period)
    rows, table = journal.rows, journal.events
    when = clock.utc(rows.life, rows.boot, rows.uptime_ds)
    happened = clock.utc(table["life"], table["boot"], table["uptime_ds"])
    return Review(
        name=rig.rig.name,
        zone=zone or zone_of(rig.site.longitude_deg),
        balance=found,
        series=_series(rows, when),
        happenings=happenings(table, happened),
        tank_height_m=rig.upper.height_m,
        notes=[*notes, *found.notes],
    )


def zone_of(longitude_deg: float) -> timezone:
    """Return the whole hours from UTC of a longitude [deg, east positive]."""
    return timezone(timedelta(hours=round(longitude_deg / DEGREES_AN_HOUR)))


def _series(rows, utc_s):
    panel_V, generator_V = rows.si(ch.PANEL_MV), rows.si(ch.GENERATOR_MV)
    return Series(
        utc_s=utc_s,
        panel_W=panel_V * rows.si(ch.PANEL_MA),
        pump_W=panel_V * rows.si(ch.PUMP_MA),
        lamp_W=generator_V * rows.si(ch.LAMP_MA),
        level_m=rows.si(ch.LEVEL_MM),
        state=rows.state,
    )
