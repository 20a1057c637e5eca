"""The conditions of a span of a shelf: what was not the rig's own doing.

Sun, cells and air by the minute, the light that was wished for, the water at the begin.  They
are apart from any judgement: a rehearsal of that span under other settings asks for the same.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from forebay.balance.covered import row_seconds
from forebay.balance.instruments import Meters
from forebay.balance.measured import Measured
from forebay.balance.plant import Store
from forebay.expected.panelsun import Curve, Moved, Sunlight, seen
from forebay.rig import Rig, instruments
from forebay.shelf import Clock, Journal, Rows
from forebay.sun import SunTrack, plane, position
from forebay.sun import station as places
from forebay.sun.load import ALBEDO
from forebay.sun.window import DEFAULT_AIR_DEGC
from keeper import channels as ch
from keeper import events, modes
from keeper.physics import of_rig
from keeper.protection import elements

MINUTE_S = 60.0
NEAR_S = 90.0            # a row so near to a minute's middle tells of it
FILE_FRAC = 0.03         # of a file's sun, in the panel's plane: a good instrument's; a guess
FILE_CELL_K = 3.0        # of the cells by it: wind and mounting; a guess
MISPLACED_FRAC = 0.1     # of the sun that is told: so much where the site has none, and the
#                          clear sky is not that of this record
NO_SKY_W_M2 = 400.0      # in place of a clear sky's where none is known; a guess
LIT_STATES = (modes.RUNNING,)
LOWER_FULL = 1 + [row[elements.E_ID] for row in elements.ELEMENTS].index("71H-LO")
SAME_SCAN_DS = 20        # an element that acted so shortly before an end was its cause
LEAST_LIT_S = 120.0      # a shorter light is a trial of somebody, no wish
BREAK_S = 900.0          # of light: a longer pause ends one wish
MINUTES_OF_AIR = 120     # before the first pumping, by the standing motor


# What the panel gave by the minute: volts, amperes, what a clear sky would give, the air.
Record = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]


class Wish(NamedTuple):
    """Light that was asked for: from, to [s since the begin], power [W].

    is_cut: it ended for want of water, or by a fault, so that it was to last for longer, to the
    end of the span at most.
    """

    begin_s: float
    end_s: float
    power_W: float
    is_cut: bool


@dataclass(frozen=True)
class Conditions:
    """What a span gave the rig.

    begin_s, end_s [s since 1970 UTC]; sun: None where nothing tells it; by: in words;
    ran_frac: of each minute, the share in which the pump's switch was on; charge_A: what the
    charger took beside it, NaN where that is not read;
    upper_m3: water above at the begin, with its uncertainty, None where nothing tells it;
    lower_m3: water below, by the description's water in all; wishes: for light; record: what the
    panel gave, to see the sun anew, None where a file tells it; told_h: hours of daylight
    that are told, of light_h; notes: one sentence each.
    """

    begin_s: float
    end_s: float
    sun: Sunlight | None
    by: str
    ran_frac: np.ndarray
    charge_A: np.ndarray
    upper_m3: Measured | None
    lower_m3: float
    wishes: tuple[Wish, ...]
    record: Record | None = None
    told_h: float = 0.0
    light_h: float = 0.0
    notes: list[str] = field(default_factory=list)

    @property
    def minutes(self) -> int:
        """How many minutes it has."""
        return round((self.end_s - self.begin_s) / MINUTE_S)

    def sun_by(self, values: Mapping[str, Any], moved: Moved | None = None) -> Sunlight:
        """Return the sun, seen through a panel as described by `values`, or moved.

        A file's sun is moved by its own uncertainty (`before`), its cells by `cell_K`.
        """
        assert self.sun is not None
        moved = moved or Moved()
        if self.record is not None:
            return seen(Curve(values), *self.record, moved)
        return self.sun._replace(
            poa_W_m2=self.sun.poa_W_m2 * (1.0 + moved.before * FILE_FRAC),
            cell_degC=self.sun.cell_degC + np.where(self.sun.poa_W_m2 > 0.0, moved.cell_K, 0.0))


class Span(NamedTuple):
    """A journal's part, ready for use: rows with their times [s since 1970 UTC], lengths [s]."""

    journal: Journal
    rows: Rows
    ends_s: np.ndarray
    seconds: np.ndarray


def span_of(journal: Journal, clock: Clock, period: tuple[float, float]) -> Span:
    """Return the part of a journal between two times [s since 1970 UTC]."""
    from forebay.balance.compute import within

    part = within(journal, clock, period)
    ends_s = clock.utc(part.rows.generation, part.rows.boot, part.rows.uptime_ds)
    return Span(part, part.rows, ends_s, row_seconds(part.rows))


def conditions_of(journal: Journal, clock: Clock, rig: Rig, period: tuple[float, float],
                  track: SunTrack | None = None) -> Conditions:
    """Return the conditions of a span of a decoded journal.

    period: (begin, end) [s since 1970 UTC]; track: the sun where a file tells it.
    """
    span = span_of(journal, clock, period)
    notes: list[str] = []
    values = rig.plant()
    minutes = round((period[1] - period[0]) / MINUTE_S)
    middles_s = period[0] + MINUTE_S * (0.5 + np.arange(minutes))
    record = None
    if track is not None:
        sun, by = _by_file(track, middles_s), f"the file {track.source}"
    elif instruments.is_fitted(values, "panel_meter") and len(span.rows):
        air_degC = _air_degC(rig, span, notes)
        record = _record(rig, span, middles_s, air_degC, notes)
        sun, by = seen(Curve(values), *record), "the panel's own record"
    else:
        sun, by = None, "nothing"
    told_h, light_h = _hours(sun)
    if sun is not None and track is None:
        notes.append(f"The sun is taken from the panel's own volts and amperes, which tell"
                     f" {told_h:.1f} of {light_h:.1f} h; where it had little load, the shape of"
                     " a clear day bridges. A tired panel looks like less sun there.")
    upper_m3 = _upper_m3(rig, span, values)
    if upper_m3 is None:
        notes.append("The water above at the begin was not read: taken as what the empty float"
                     " leaves, as after a night that ended for want of water.")
    return Conditions(*period, sun, by, _ran_frac(span, period[0], minutes),
                      _charge_A(values, span, middles_s), upper_m3,
                      _lower_m3(values, upper_m3), _wishes(span, clock, period), record,
                      told_h, light_h, notes)


def _hours(sun):
    if sun is None:
        return 0.0, 0.0
    lit = sun.poa_W_m2 > 0.0
    return float((lit & sun.is_told).sum()) / 60.0, float(lit.sum()) / 60.0


def _by_file(track, middles_s):
    begin_s = track.start_utc.timestamp()
    at_s = begin_s + MINUTE_S * np.arange(len(track.poa_w_m2))
    poa, cell, air = (np.interp(middles_s, at_s, values, left=values[0], right=values[-1])
                      for values in (track.poa_w_m2, track.cell_degC, track.air_degC))
    covered_by = (middles_s >= at_s[0]) & (middles_s <= at_s[-1])
    return Sunlight(np.where(covered_by, poa, 0.0), cell, air, np.full(len(poa), FILE_FRAC),
                    np.ones(len(poa), bool))


def _nearest(span, middles_s, values):
    """Return a column's row nearest to each minute's middle, NaN where none is near."""
    known = np.isfinite(span.ends_s)
    if not known.any():
        return np.full(len(middles_s), np.nan)
    at_s = (span.ends_s - span.seconds / 2)[known]
    order = np.argsort(at_s, kind="stable")
    at_s, values = at_s[order], values[known][order]
    right = np.clip(np.searchsorted(at_s, middles_s), 1, max(1, len(at_s) - 1))
    left = right - 1
    right = np.minimum(right, len(at_s) - 1)
    place = np.where(np.abs(at_s[left] - middles_s) <= np.abs(at_s[right] - middles_s), left,
                     right)
    return np.where(np.abs(at_s[place] - middles_s) <= NEAR_S, values[place], np.nan)


def panel_read(span: Span, begin_s: float, minutes: int) -> tuple[np.ndarray, np.ndarray]:
    """Return volts [V] and amperes [A] of the panel by the minute, NaN where not read."""
    middles_s = begin_s + MINUTE_S * (0.5 + np.arange(minutes))
    volts, amps = (_nearest(span, middles_s, span.rows.si(place))
                   for place in (ch.PANEL_MV, ch.PANEL_MA))
    return volts, amps


def clear_W_m2(rig: Rig, times_s: np.ndarray) -> np.ndarray:
    """Return what a clear sky gives in the plane of a rig's panel [W/m2]."""
    station = places.of_site(rig.site)
    sun = position.sun(times_s, station)
    parts = plane.clear_sky(sun, position.utc_times(times_s), station.height_m)
    poa = plane.plane_of_array(parts, sun, rig.panel.tilt_deg, rig.panel.azimuth_deg, ALBEDO)
    return np.nan_to_num(np.asarray(poa, float))


def _record(rig, span, middles_s, air_degC, notes):
    """Return (volts, amps, clear sky, air) by the minute, of which the sun is seen."""
    volts, amps = panel_read(span, float(middles_s[0]) - MINUTE_S / 2, len(middles_s))
    clear = clear_W_m2(rig, middles_s)
    current = np.nan_to_num(amps)
    if current.sum() > 0 and current[clear < 1.0].sum() > MISPLACED_FRAC * current.sum():
        notes.append("The panel gave current at hours without sun at the rig's site: the clear"
                     " sky there is no guide (a rehearsal by a far station's file, or wrong"
                     " times); what the panel does not tell is hardly known.")
        clear = np.where(np.nan_to_num(volts) > rig.night.dark_voltage_V, NO_SKY_W_M2, 0.0)
    return volts, amps, clear, np.full(len(middles_s), air_degC)


def _air_degC(rig, span, notes):
    """Return the air of the day [degC]: as stated, by the standing motor, or a standard's."""
    if rig.site.air_temperature_degC is not None:
        return rig.site.air_temperature_degC
    degC = span.rows.si(ch.MOTOR_MDEGC)
    pumping = np.flatnonzero(np.isin(span.rows.state, (modes.TRIAL, modes.PUMPING)))
    before = slice(0, pumping[0] if len(pumping) else len(degC))
    still = degC[before][np.isfinite(degC[before])][-MINUTES_OF_AIR:]
    if len(still):
        notes.append("The day's air is taken from the motor that stood in it till it pumped.")
        return float(np.median(still))
    notes.append(f"The day's air is not known: {DEFAULT_AIR_DEGC:g} degC assumed.")
    return DEFAULT_AIR_DEGC


def _ran_frac(span, begin_s, minutes):
    """Return of each minute the share in which the pump's switch was on."""
    on = np.isin(span.rows.state, (modes.TRIAL, modes.PUMPING)) & np.isfinite(span.ends_s)
    order = np.argsort(span.ends_s[on], kind="stable")
    ends_s, seconds = span.ends_s[on][order], span.seconds[on][order]
    edges_s = begin_s + MINUTE_S * np.arange(minutes + 1)
    if not len(ends_s):
        return np.zeros(minutes)
    at_s = np.stack([ends_s - seconds, ends_s], axis=-1).ravel()
    passed_s = np.stack([np.cumsum(seconds) - seconds, np.cumsum(seconds)], axis=-1).ravel()
    return np.clip(np.diff(np.interp(edges_s, at_s, passed_s)) / MINUTE_S, 0.0, 1.0)


def _charge_A(values, span, middles_s):
    """Return the charger's current [A] by the minute, NaN where no meters show it."""
    if not all(instruments.is_fitted(values, name) for name in ("panel_meter", "pump_meter")):
        return np.full(len(middles_s), np.nan)
    return np.maximum(0.0, _nearest(span, middles_s, span.rows.si(ch.PANEL_MA)
                                    - span.rows.si(ch.PUMP_MA)))


def _upper_m3(rig, span, values) -> Measured | None:
    if not instruments.is_fitted(values, "level"):
        return None
    level_m = span.rows.si(ch.LEVEL_MM)
    known = np.flatnonzero(np.isfinite(level_m))
    if not len(known):
        return None
    first = known[0]
    meters = Meters(rig.sensors, frozenset(instruments.fitted(rig.sensors)))
    scans = int(span.rows.scans[first])
    level = meters.level(float(level_m[first]), rig.upper.height_m).with_noise(
        float(meters.level_noise_m(scans)))
    return Store(rig, None).litres(level) * 1e-3


def _lower_m3(values, upper_m3: Measured | None) -> float:
    """Return the water below [m3]: what the description has in both tanks, less what is above."""
    both_m3 = values["lower.start_volume_m3"] + values["upper.start_volume_m3"]
    above_m3 = values["upper.start_volume_m3"] if upper_m3 is None else upper_m3.value
    return min(max(0.0, both_m3 - above_m3), of_rig.tank(values, "lower.").capacity_m3)


def _wishes(span, clock, period) -> tuple[Wish, ...]:
    """Return the light of a span, by what the lamps were given."""
    rows = span.rows
    lit = np.isin(rows.state, LIT_STATES) & np.isfinite(span.ends_s)
    if not lit.any():
        return ()
    places = np.flatnonzero(lit)
    begins_s = (span.ends_s - span.seconds)[places]
    cuts = np.flatnonzero(begins_s[1:] - span.ends_s[places][:-1] > BREAK_S)
    power_W = rows.si(ch.GENERATOR_MV) * rows.si(ch.LAMP_MA)
    ends = _light_ends(span, clock)
    found = []
    for run in np.split(places, cuts + 1):
        first_s, last_s = (span.ends_s - span.seconds)[run[0]], span.ends_s[run[-1]]
        shown = power_W[run][np.isfinite(power_W[run])]
        if last_s - first_s < LEAST_LIT_S or not len(shown):
            continue
        _, cause, is_full = min(ends, key=lambda one: abs(one[0] - last_s),
                                default=(0.0, None, False))
        is_cut = (cause in (modes.STOPPED, modes.TRIPPED) and not is_full
                  and last_s < period[1] - BREAK_S)
        found.append(Wish(float(first_s - period[0]),
                          float((period[1] if is_cut else last_s) - period[0]),
                          # What was held for most of it; dim ends pull a mean down.
                          float(np.quantile(shown, 0.6)), is_cut))
    return tuple(one._replace(end_s=min(one.end_s, after.begin_s))
                 for one, after in zip(found, [*found, Wish(np.inf, 0, 0, False)][1:],
                                       strict=True))


def _light_ends(span, clock):
    """Return (when [s since 1970 UTC], cause, if the lower tank was full) of each light's end."""
    table = span.journal.events
    acted = table[(table["code"] == events.ACTED) & (table["argument"] == LOWER_FULL)]
    full = set(zip(acted["boot"].tolist(), acted["uptime_ds"].tolist(), strict=True))
    ended = table[(table["code"] == events.STATE) & (table["argument"] == modes.RUNNING)]
    when_s = clock.utc(ended["generation"], ended["boot"], ended["uptime_ds"])
    is_full = [any((boot, at_ds - late) in full for late in range(SAME_SCAN_DS))
               for boot, at_ds in zip(ended["boot"].tolist(), ended["uptime_ds"].tolist(),
                                      strict=True)]
    return list(zip(when_s.tolist(), ended["argument2"].tolist(), is_full, strict=True))
