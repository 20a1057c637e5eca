"""Local time: UTC inside, local days and clock times where a person reads.

Owns the turn from seconds to the calendar of a zone.  A local day has 23 or
25 hours when the clocks change; it is told by its first instant, never by
adding 24 h.
"""

from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from forebay.errors import InputError

DEGREES_AN_HOUR = 15.0
UNKNOWN_DAY = -1
S_PER_DAY = 86400
EPOCH = date(1970, 1, 1)


class TimeError(InputError):
    """A zone, a day or a time that cannot be read."""


def zone_named(name: str) -> tzinfo:
    """Return the zone of an IANA name such as Europe/Madrid; TimeError if there is none."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise TimeError(f"there is no time zone {name!r}: give an IANA name such as"
                        " Europe/Madrid, or UTC") from error


def zone_of(longitude_deg: float) -> timezone:
    """Return the whole hours from UTC of a longitude [deg, east positive]."""
    return timezone(timedelta(hours=round(longitude_deg / DEGREES_AN_HOUR)))


def zone_at(site) -> tzinfo:
    """Return the zone of a rig's site: the one that it names, else that of its longitude.

    site: section of a description (`forebay.rig`).  TimeError if there is none of that name.
    """
    return zone_named(site.zone) if site.zone else zone_of(site.longitude_deg)


def day_of(text: str) -> date:
    """Return a local day from YYYY-MM-DD; TimeError otherwise."""
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise TimeError(f"{text!r} is not a day: write it as YYYY-MM-DD") from error


def moment_of(text: str, zone: tzinfo) -> float:
    """Return the time [s since 1970 UTC] of a local day or an ISO 8601 time.

    A day means its first instant; a time without an offset is local.  A local
    time that the change of the clocks repeats means the first of the two.
    Raises TimeError.
    """
    try:
        found = datetime.fromisoformat(text)
    except ValueError as error:
        raise TimeError(f"{text!r} is not a time: write it as YYYY-MM-DD or"
                        " YYYY-MM-DDTHH:MM, with Z or an offset if it is not local") from error
    return (found if found.tzinfo else found.replace(tzinfo=zone)).timestamp()


def period_of(begin: str | None, end: str | None, day: str | None,
              zone: tzinfo) -> tuple[float, float] | None:
    """Return (begin, end) [s since 1970 UTC] of --from, --to and --date; None = all of time.

    begin, end: as for `moment_of`, end is not included; day: one local day
    instead of both.  Raises TimeError.
    """
    if day is not None:
        if begin or end:
            raise TimeError("--date is one whole local day: give it without --from and --to")
        return day_bounds_s(day_of(day), zone)
    if begin is None and end is None:
        return None
    begin_s = moment_of(begin, zone) if begin else float("-inf")
    end_s = moment_of(end, zone) if end else float("inf")
    if begin_s >= end_s:
        raise TimeError(f"--from {begin} is not before --to {end}")
    return begin_s, end_s


def day_bounds_s(day: date, zone: tzinfo) -> tuple[float, float]:
    """Return the first instant of a local day and of the next one [s since 1970 UTC]."""
    return _begin_s(day, zone), _begin_s(day + timedelta(days=1), zone)


def _begin_s(day, zone):
    # Where clocks go forward at midnight, that 00:00 is the instant of the change.
    return datetime(day.year, day.month, day.day, tzinfo=zone).timestamp()


def local_days(utc_s: np.ndarray, zone: tzinfo) -> tuple[np.ndarray, list[date]]:
    """Return (for each time its place in the list, or UNKNOWN_DAY; their local days in order).

    utc_s: times [s since 1970 UTC], NaN where not known.  Days between
    that hold no time are not in the list: a damaged record may be ages away.
    """
    known = np.isfinite(utc_s)
    place = np.full(len(utc_s), UNKNOWN_DAY)
    if not known.any():
        return place, []
    of_utc = np.unique(np.floor(utc_s[known] / S_PER_DAY).astype(np.int64))
    # No zone is a whole day from UTC.
    near = np.unique(of_utc[:, None] + np.array([-1, 0, 1]))
    days = [EPOCH + timedelta(days=count) for count in near.tolist()]
    begins_s = np.array([_begin_s(day, zone) for day in days])
    used, place[known] = np.unique(
        np.searchsorted(begins_s, utc_s[known], side="right") - 1, return_inverse=True)
    return place, [days[at] for at in used.tolist()]


def day_ranges(days: list[date]) -> list[str]:
    """Return days in order as text, those that follow each other as one: first to last."""
    ranges: list[list[date]] = []
    for day in days:
        if ranges and day - ranges[-1][1] == timedelta(days=1):
            ranges[-1][1] = day
        else:
            ranges.append([day, day])
    return [str(first) if first == last else f"{first} to {last}" for first, last in ranges]


def bound_text(bound_s: float) -> str:
    """Return the bound of a time [s] for a person: "+- 40 s", "+- 3 min", "+- 2.5 h"."""
    if not np.isfinite(bound_s):
        return "not bounded"
    for unit, size_s in (("d", 86400.0), ("h", 3600.0), ("min", 60.0)):
        if bound_s >= 2 * size_s:
            return f"+- {bound_s / size_s:.2g} {unit}"
    return f"+- {bound_s:.2g} s"


def maybe_iso(utc_s: float | None) -> str | None:
    """Return a time [s since 1970 UTC] as ISO 8601 text, None if it is not known."""
    if utc_s is None or not np.isfinite(utc_s):
        return None
    return datetime.fromtimestamp(utc_s, UTC).isoformat(timespec="seconds")


def iso_local(utc_s: float | None, zone: tzinfo, form: str = "%d %b %Y %H:%M") -> str:
    """Return a time [s since 1970 UTC] in a zone; "time unknown" if it is not known."""
    if utc_s is None or not np.isfinite(utc_s):
        return "time unknown"
    return datetime.fromtimestamp(utc_s, UTC).astimezone(zone).strftime(form)
