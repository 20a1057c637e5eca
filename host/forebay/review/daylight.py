"""A panel that reads dark while the sun is high: an open lead, or a cover.

Even under thick cloud an unloaded panel shows most of its voltage; what reads next to nothing
with the sun well up has no panel at the other end.
"""

import numpy as np

from forebay.balance.covered import row_seconds
from forebay.balance.nights import DOWN_DEG
from forebay.review.finding import ACT, LOOK, Finding, Record, span_text
from forebay.shelf.cells import U32_MOST
from keeper import channels as ch

WENT_DARK = "The panel went dark in daylight"
HIGH_DEG = 10.0        # above haze and hills (a guess)
LEAST_S = 20 * 60.0    # longer than a snow squall, or a person in front of it (a guess)
# Of the panel's open voltage: a cell gives two thirds of its full voltage at a hundredth of
# the sun's light (ideal diode law at a cell's usual slope).
NO_PANEL_FRAC = 0.2
EVERY_S = 300.0
LONGEST_NIGHT_S = 86400.0   # that is looked through; polar ones are taken for several
SUDDEN_S = 300.0       # in which a cloud dims a panel, and leaves it most of its volts
SUNNY_FRAC = 0.6       # of its open voltage: it shone


def dark_by_day(record: Record) -> list[Finding]:
    """Return the finding of a panel that read dark by day, nothing where none did."""
    when_s, panel_V = record.when_s, record.rows.si(ch.PANEL_MV)
    known = np.isfinite(when_s) & np.isfinite(panel_V)
    if "panel_meter" not in record.there or not known.any():
        return []
    dark = known & (panel_V < NO_PANEL_FRAC * record.plant["panel.open_circuit_voltage_V"])
    if not dark.any():
        return []
    dark[dark] = elevation_deg(when_s[dark], *record.place) > HIGH_DEG
    seconds = row_seconds(record.rows)
    lasted_s = float(np.sum(seconds[dark]))
    if lasted_s < LEAST_S:
        return []
    first_s, last_s = float(when_s[dark].min()), float(when_s[dark].max())
    later_V = panel_V[known & (when_s > first_s)]
    stands = not np.any(later_V >= NO_PANEL_FRAC * record.plant["panel.open_circuit_voltage_V"])
    before_V = panel_V[known & (when_s < first_s) & (when_s > first_s - SUDDEN_S)]
    sudden = len(before_V) and float(before_V.max()) > SUNNY_FRAC * record.plant[
        "panel.open_circuit_voltage_V"]
    how = (f" It fell from {float(before_V.max()):.1f} V within {span_text(SUDDEN_S)}: no cloud"
           " does that." if sudden else "")
    back = "and has not come back since" if stands else f"till {record.at(last_s)}"
    return [Finding(
        ACT if stands else LOOK,
        f"{WENT_DARK}, at {record.at(first_s)}, {back}: {span_text(lasted_s)}"
        f" with the sun more than {HIGH_DEG:.0f} degrees up.{how} Nothing was pumped or charged"
        " meanwhile, and the board takes such a time for night.",
        "Look first at the panel's isolator, fuse and leads: measure volts at the panel, then"
        " towards the board. If it is whole: is it covered by snow or a sheet?", first_s)]


def is_night_since(record: Record, from_s: float) -> bool:
    """Return whether the sun was down from a time [s since 1970 UTC] to the end of a record."""
    if not 0.0 <= record.end_s - from_s < LONGEST_NIGHT_S:
        return False
    at_s = np.append(np.arange(from_s, record.end_s, EVERY_S), record.end_s)
    return bool((elevation_deg(at_s, *record.place) < DOWN_DEG).all())


def elevation_deg(utc_s: np.ndarray, latitude_deg: float, longitude_deg: float) -> np.ndarray:
    """Return the sun's elevation [deg] at times [s since 1970 UTC], NaN centuries from now."""
    # A second of start-up: only a time that has to know it pays it.
    import pandas as pd
    from pvlib.solarposition import spa_python

    places, back = np.unique(np.round(utc_s / EVERY_S), return_inverse=True)
    # A board that gives times by chance: where the sun stood in such a year nobody asks.
    sound = (places >= 0) & (places * EVERY_S <= U32_MOST)
    found = np.full(len(places), np.nan)
    if sound.any():
        times = pd.to_datetime(places[sound] * EVERY_S, unit="s", utc=True)
        found[sound] = spa_python(pd.DatetimeIndex(times), latitude_deg,
                                  longitude_deg)["elevation"].to_numpy()
    return found[back]
