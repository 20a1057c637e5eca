"""Which local day of a file is shown, and where its daylight lies."""

from calendar import isleap
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone

from forebay.sun import position
from forebay.sun.errors import SunError
from forebay.sun.minutes import SECONDS_PER_MINUTE
from forebay.sun.readings import FIRST_YEAR, LAST_YEAR

SECONDS_PER_HOUR = 3600
MINUTES_PER_HOUR = 60
LEAD_S = 30 * 60  # at least this much night before sunrise
LISTED_DAYS = 3  # how many days an error tells about


@dataclass(frozen=True)
class Daylight:
    """Sunrise and sunset of one local day [s since 1970 UTC]."""

    day: date
    sunrise_s: float
    sunset_s: float

    @property
    def first(self):
        """First whole minute with the sun up [min since 1970 UTC]."""
        return -int(-self.sunrise_s // SECONDS_PER_MINUTE)

    @property
    def last(self):
        """Last whole minute with the sun up [min since 1970 UTC]."""
        return int(self.sunset_s // SECONDS_PER_MINUTE)

    def start_s(self, zone_h):
        """Last whole local hour at least LEAD_S before sunrise [s since 1970 UTC]."""
        offset_s = zone_h * SECONDS_PER_HOUR
        local_s = self.sunrise_s - LEAD_S + offset_s
        return int(local_s // SECONDS_PER_HOUR * SECONDS_PER_HOUR - offset_s)


def local(time_s, zone_h):
    """Local standard time with its zone."""
    return datetime.fromtimestamp(time_s, UTC).astimezone(timezone(timedelta(hours=zone_h)))


@dataclass(frozen=True)
class DayOfYear:
    """A local day of whichever year there is."""

    month: int
    day: int

    def after(self, first, last):
        """Its first date from `first` to `last`, None if it does not come."""
        years = [year for year in range(first.year, last.year + 1)
                 if (self.month, self.day) != (2, 29) or isleap(year)]
        days = [date(year, self.month, self.day) for year in years]
        return next((day for day in days if first <= day <= last), None)

    def __str__(self):
        return f"{self.month:02}-{self.day:02}"


def parsed_date(value):
    """A local date from "2016-01-01", a DayOfYear from "01-15"; a date or None as it is."""
    if value is None or isinstance(value, (date, DayOfYear)):
        return value
    try:
        if len(value) == len("01-15"):
            leap = date.fromisoformat(f"2000-{value}")
            return DayOfYear(leap.month, leap.day)
        day = date.fromisoformat(value)
    except ValueError:
        raise SunError(f"date '{value}': expected a local day such as 2016-01-01, or 01-15 for"
                       " that of the file's year") from None
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise SunError(f"date '{value}': the year must be {FIRST_YEAR} to {LAST_YEAR}")
    return day


def daylight_of(days, station):
    """[Daylight] of those local days on which the sun rises and sets."""
    pairs = zip(days, position.rise_and_set(days, station), strict=True)
    return [Daylight(day, *events) for day, events in pairs if events is not None]


def one_day(day, station):
    """Daylight of one day; SunError where the sun does not rise and set."""
    found = daylight_of([day], station)
    if not found:
        raise SunError(
            f"{day}: at {station} the sun does not rise and set on this day;"
            " choose another with --date"
        )
    return found[0]


def choose(minutes, station, wanted, assume_dark, notes):
    """The Daylight to show: the wanted local day, or the complete one of the file.

    With assume_dark an incomplete day may be shown, by default the one with
    most data. Raises SunError where there is none.
    """
    zone_h = station.zone_h
    first = local(minutes.first * SECONDS_PER_MINUTE, zone_h).date()
    last = local(minutes.last * SECONDS_PER_MINUTE, zone_h).date()
    if wanted is not None:
        found_day = wanted.after(first, last) if isinstance(wanted, DayOfYear) else wanted
        if found_day is None or not first <= found_day <= last:
            raise SunError(
                f"{minutes.source}: no rows on {wanted}; its local days run from {first} to"
                f" {last} at {station} (UTC{zone_h:+g}): choose one of them"
            )
        found = [one_day(found_day, station)]
        if not _rows_of(minutes, found[0]):
            raise SunError(f"{minutes.source}: no rows by day on {found_day} at {station}"
                           f" (UTC{zone_h:+g}); choose another day with --date")
    else:
        span = [first + timedelta(days=count) for count in range((last - first).days + 1)]
        found = daylight_of(span, station)
    complete = [light for light in found if not _missing(minutes, light)]
    if complete:
        if len(complete) > 1:
            notes.append(
                f"{len(complete)} local days of the file are complete: the first is shown,"
                f" {complete[0].day}."
            )
        return complete[0]
    if assume_dark:
        return _fullest(minutes, station, found)
    raise SunError(_incomplete(minutes, station, found))


def _rows_of(minutes, light):
    """Whether a row begins in the daylight or up to an hour before it."""
    return any(light.first - MINUTES_PER_HOUR <= minute <= light.last
               for minute in minutes.first_line)


def _missing(minutes, light):
    """[(first, last)] minutes of daylight before and after the rows of the file."""
    parts = []
    if minutes.first > light.first:
        parts.append((light.first, min(minutes.first - 1, light.last)))
    if minutes.last < light.last:
        parts.append((max(minutes.last + 1, light.first), light.last))
    return parts


def _covered(minutes, light):
    return min(minutes.last, light.last) - max(minutes.first, light.first) + 1


def _fullest(minutes, station, found):
    best = max(found, key=lambda light: _covered(minutes, light), default=None)
    if best is None or _covered(minutes, best) <= 0:
        raise SunError(
            f"{minutes.source}: no row with the sun up at {station}; is the station"
            " right? State it with --station latitude,longitude,height"
        )
    return best


def spans(minutes, light, zone_h):
    """Missing daylight in words, "06:12 to 07:40 and ...", or "" if there is none."""
    return " and ".join(
        f"{local(a * SECONDS_PER_MINUTE, zone_h):%H:%M} to"
        f" {local(b * SECONDS_PER_MINUTE, zone_h):%H:%M}"
        for a, b in _missing(minutes, light)
    )


def _incomplete(minutes, station, found):
    zone_h = station.zone_h
    lacking = "; ".join(
        f"{light.day} lacks {spans(minutes, light, zone_h)}" for light in found[:LISTED_DAYS]
    )
    return (
        f"{minutes.source}: no complete local daylight at {station} (UTC{zone_h:+g}):"
        f" {lacking or 'the sun does not rise and set'}; give a file with the whole day, or take"
        " what is missing as dark with --assume-dark"
    )
