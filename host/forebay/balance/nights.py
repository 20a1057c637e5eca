"""When it was night at a rig: by the panel's voltage, else by the sun over its place.

Owns which of the two is the better, and from when to when a night goes.
"""

from collections.abc import Iterator
from datetime import date, timedelta

import numpy as np

from forebay.balance.spans import FILL_STATES, Axis, Course
from forebay.rig import instruments
from forebay.shelf import Clock
from forebay.shelf.clock import DS_PER_S
from forebay.shelf.stepwise import Reader
from forebay.si import stored_si
from forebay.sun import Station, position
from keeper import channels as ch

# Darker than this long is a night: a pump's hold-off under clouds is shorter. Below 60
# degrees of latitude no night from dusk to dawn is (from memory; a guess in between).
NIGHT_LEAST_S = 4 * 3600.0
# A panel in the dark gives no voltage, in dusk some volts; a guess between both.
DARK_V = 2.0
# At rise and set of the almanac: the sun's radius and 34 minutes of arc of refraction.
SET_ZENITH_DEG = 90.833
DOWN_DEG = 90.0 - SET_ZENITH_DEG   # of elevation: lower than this it is
S_PER_H, S_PER_DAY = 3600.0, 86400.0


def reads_panel(rig) -> bool:
    """Return whether a meter of a rig reads the panel's voltage."""
    return any(ch.PANEL_MV in instruments.BY_NAME[name].reads
               for name in instruments.fitted(rig.sensors))


def how_told(rig) -> str:
    """Return in a sentence by what the nights of a rig are told from its days."""
    if reads_panel(rig):
        return "A night goes from dusk to dawn, by the panel's voltage."
    return ("A night goes from sunset to sunrise at the latitude and longitude of the rig's"
            " description: no meter reads the panel's voltage.")


def nights(reader: Reader, rig, begin_s: float, end_s: float) -> Iterator[tuple[float, float]]:
    """Yield from when to when it was night [s since 1970 UTC], cut by a begin and an end."""
    if reads_panel(rig):
        yield from _by_panel(reader, begin_s, end_s)
        return
    for down_s, up_s in sun_down(rig, begin_s, end_s):
        if min(up_s, end_s) > max(down_s, begin_s):
            yield max(down_s, begin_s), min(up_s, end_s)


def sun_down(rig, begin_s: float, end_s: float) -> list[tuple[float, float]]:
    """Return from when to when the sun is down at a rig's place [s since 1970 UTC], in order.

    All that reach into a time from begin_s to end_s; where it does not rise for days, that is
    one.
    """
    station = Station(rig.site.latitude_deg, rig.site.longitude_deg, rig.site.height_m)
    first, last = (date(1970, 1, 1) + timedelta(
        days=float((at_s + station.zone_h * S_PER_H) // S_PER_DAY)) for at_s in (begin_s, end_s))
    days = [first + timedelta(days=n) for n in range(-1, (last - first).days + 2)]
    found: list[list[float]] = []
    for day, pair in zip(days, position.rise_and_set(days, station), strict=True):
        low_s = position.midnight_s(day, station)
        rise_s, set_s = pair or _all_day(low_s, station)
        for down_s, up_s in ((low_s, rise_s), (set_s, low_s + S_PER_DAY)):
            if up_s <= down_s:
                continue
            if found and down_s <= found[-1][1]:
                found[-1][1] = max(found[-1][1], up_s)
            else:
                found.append([down_s, up_s])
    return [(down_s, up_s) for down_s, up_s in found if up_s > begin_s and down_s < end_s]


def maybe_pump_sun_down_h(course: Course, axis: Axis, clock: Clock, rig) -> float | None:
    """Return for how long the pump was switched on with the sun down [h].

    course: when the rig did what, on the axis.  None where a meter reads the panel, which
    knows its sun better, or where no time is known.
    """
    if reads_panel(rig):
        return None
    fills = np.isin(course.state, FILL_STATES)
    begins_s, ends_s = (_utc_s(clock, axis, course.key[fills], at_s[fills])
                        for at_s in (course.begin_s, course.end_s))
    known = np.isfinite(begins_s) & np.isfinite(ends_s)
    if not known.any():
        return None if fills.any() else 0.0
    begins_s, ends_s = begins_s[known], ends_s[known]
    down_s, up_s = np.array(
        sun_down(rig, float(begins_s.min()), float(ends_s.max()))).reshape(-1, 2).T
    dark_s = np.concatenate([[0.0], np.cumsum(up_s - down_s)])

    def before(at_s):
        """Return how long the sun was down before times, from the first night on."""
        place = np.searchsorted(down_s, at_s, side="right")
        last = np.maximum(place - 1, 0)
        into_s = np.clip(at_s - down_s[last], 0.0, (up_s - down_s)[last])
        return np.where(place > 0, dark_s[last] + into_s, 0.0)

    if not len(down_s):
        return 0.0
    return float((before(ends_s) - before(begins_s)).sum()) / S_PER_H


def _utc_s(clock, axis, keys, at_s):
    """Return places on the axis [s] as times [s since 1970 UTC]."""
    bases_s = np.array([axis.bases_s[int(key)] for key in keys])
    return clock.utc(keys >> 16, keys & 0xFFFF, (at_s - bases_s) * DS_PER_S)


def _all_day(midnight_s, station):
    """Return (rise, set) [s] of a day on which the sun does neither: it is up or down."""
    noon_s = midnight_s + S_PER_DAY / 2
    zenith_deg = float(position.sun([noon_s], station)["zenith"].iloc[0])
    is_up = zenith_deg < SET_ZENITH_DEG
    return (midnight_s, midnight_s + S_PER_DAY) if is_up else (noon_s, noon_s)


def _by_panel(reader, begin_s, end_s):
    """Yield from dusk to dawn: rows of a long time with a dark panel and no pumping."""
    since_s = None  # the end of the last row by day
    for dawn_s, dusk_s in _lit(reader, begin_s, end_s):
        if since_s is not None and dawn_s - since_s >= NIGHT_LEAST_S:
            yield since_s, dawn_s
        since_s = dusk_s
    if since_s is not None and end_s - since_s >= NIGHT_LEAST_S:
        yield since_s, end_s


def _lit(reader, begin_s, end_s):
    """Yield from when to when [s since 1970 UTC] it was day, row behind row as one."""
    yield begin_s - NIGHT_LEAST_S, begin_s  # as if: a night may come first
    for step in reader.steps((begin_s, end_s)):
        rows = step.journal.rows
        volts = stored_si(rows.stored[ch.PANEL_MV], ch.PANEL_MV)
        is_day = np.isin(rows.state, FILL_STATES) | (volts > DARK_V)
        change = np.diff(is_day.astype(np.int8), prepend=0, append=0)
        first, last = np.flatnonzero(change > 0), np.flatnonzero(change < 0) - 1
        begins_s = reader.clock.utc(rows.generation[first], rows.boot[first],
                                    rows.uptime_ds[first] - np.minimum(
                                        rows.scans[first], rows.uptime_ds[first]))
        ends_s = reader.clock.utc(rows.generation[last], rows.boot[last], rows.uptime_ds[last])
        known = np.isfinite(begins_s) & np.isfinite(ends_s)
        yield from zip(begins_s[known].tolist(), ends_s[known].tolist(), strict=True)
