"""Findings that name one cause for several alarms, with the proof that the record has.

Each folds the elements that say the same: one cause, one finding.  They speak of how things
were at the end of the record, not of when the alarm rose.
"""

from collections.abc import Iterator

import numpy as np

from forebay.balance.covered import row_seconds
from forebay.balance.leaks import LEAK, TIGHT, UNKNOWN
from forebay.review.figures import pair
from forebay.review.finding import ACT, HELD, LOOK, NOTICE, SURE, UNSURE, Finding, Record
from forebay.words.protection import ELEMENTS
from keeper import channels as ch
from keeper import modes
from keeper.physics import of_rig

OPEN_FRAC = 0.10           # a valve that reads more is not shut (its zero drifts by less)
LAST_ROWS = 3
FROZEN_degC = 0.0
L_PER_M3 = 1000.0
TELLING_L = 1.0            # of water that ran where none should (a guess)
DRAIN = '`forebay dispatch drain-down --for "12 h"`'
OF_FROST = frozenset(("23-WTR", "23-CLD"))
OF_VALVE = frozenset(("48-VLV", "33-SHT", "48-SHT", "33-LIT", "80-SHT", "33-VLV"))
OF_LEAK = frozenset(("71D-UP", "71D-FLT", "3-VOL"))


def causes(record: Record) -> Iterator[Finding]:
    """Yield what explains several alarms at once, in no order."""
    yield from _frost(record)
    yield from valve_open(record)
    yield from _leak(record)


def acted_of(record: Record, ids) -> list:
    """Return what elements of some ids did, the first first."""
    found = [one for one in record.standing.acted.values()
             if one.number in ELEMENTS and ELEMENTS[one.number].id in ids]
    return sorted(found, key=lambda one: one.times_s[0][0] if one.times_s else np.inf)


def level_at_end_m(record: Record) -> float:
    """Return the last level that was read [m], NaN where none was."""
    level_m = record.rows.si(ch.LEVEL_MM)
    known = level_m[np.isfinite(level_m)]
    return float(known[-1]) if len(known) and "level" in record.there else float("nan")


def water_left(record: Record) -> str:
    """Return how much water the upper tank holds at the end, in a sentence; "" if not known."""
    level_m = level_at_end_m(record)
    if not np.isfinite(level_m):
        return ""
    tank = of_rig.tank(record.plant, "upper.")
    # A sensor may read past the rim, or below the floor.
    litres = tank.volume_m3(min(max(level_m, 0.0), tank.height_m)) * L_PER_M3
    return f"The upper tank holds about {litres:.0f} L at the end."


def is_frozen(record: Record) -> bool:
    """Return whether the water's thermometer read below freezing."""
    degC = record.rows.si(ch.WATER_MDEGC)
    return bool(np.isfinite(degC).any() and np.nanmin(degC) < FROZEN_degC)


def _frost(record):
    acts = [one for one in acted_of(record, OF_FROST) if ELEMENTS[one.number].id == "23-WTR"]
    if not acts:
        return
    one = acts[0]
    degC = record.rows.si(ch.WATER_MDEGC)
    since_s = one.times_s[0][0] if one.times_s else float("nan")
    said = f"since {record.at(since_s)}"
    code = f"({ELEMENTS[one.number].id})"
    low = f"the water read {np.nanmin(degC):.1f} degC at lowest" if np.isfinite(
        degC).any() else "how cold is not known"
    when = record.when_s[int(np.nanargmin(degC))] if np.isfinite(degC).any() else None
    if is_frozen(record):
        yield Finding(
            ACT, f"The pipes are frozen, as far as their thermometer tells: {low}, at"
            f" {record.at(when)}. Pump and light are held off {said}."
            f" {' '.join(filter(None, (water_left(record), code)))}",
            "Shut the tank's hand valve now, so that no burst pipe lets the water out. Start"
            " nothing; treat pipes, pump and filter as burst until you have looked them over. Let"
            " them thaw gently and without a flame; empty them only when they are found whole:"
            f" {DRAIN}.", since_s, OF_FROST)
        return
    stands = ", and still at the end" if one.acts_now else "; they were warmer at the end"
    yield Finding(
        HELD if one.acts_now else LOOK,
        f"Pipes near freezing: {low}{stands}. That holds off pump and light {said}. {code}",
        "Shut the tank's hand valve and empty pump, filter and pipes before they freeze:"
        f" {DRAIN}.", since_s, OF_FROST)


def valve_open(record: Record) -> Iterator[Finding]:
    """Yield that the valve was open at the end though nothing wanted it open."""
    rows = record.rows
    wanted = (modes.RUNNING, modes.DRAINING)
    if record.standing.state in wanted or not len(rows) or rows.state[-1] in wanted:
        return
    reads = rows.si(ch.VALVE_PERMILLE)[-LAST_ROWS:]
    if not (np.isfinite(reads).all() and np.all(reads > OPEN_FRAC)):
        return
    acts = acted_of(record, OF_VALVE)
    since_s = acts[0].times_s[0][0] if acts and acts[0].times_s else float("nan")
    ran_L = _ran_after(record, since_s)
    proof = f" {ran_L:.0f} L ran down after that, so it is no fault of its sensor." if (
        ran_L > TELLING_L) else ""
    told = f" since {record.at(since_s)}" if np.isfinite(since_s) else ""
    codes = f" ({', '.join(ELEMENTS[one.number].id for one in acts)})" if acts else ""
    level_m = level_at_end_m(record)
    water = ("The upper tank has run empty." if level_m <= record.level_m[0] else
             f"{water_left(record)} It is running out." if np.isfinite(level_m) else
             "The water may be running out.")
    later = {ELEMENTS[one.number].id for one in acted_of(record, ("71H-LO",))
             if one.times_s and one.times_s[0][0] > since_s}
    yield Finding(
        ACT, f"The valve stands {reads[-1]:.0%} open at the end, though it is told to be"
        f" shut{told}.{proof} {water}{codes}",
        "Hands off while water runs. Shut the hand valve before the turbine first, then open the"
        " isolator; only then look at the valve's motor, gear and fuse, and for grit in its seat.",
        since_s, OF_VALVE | later)


def _ran_after(record, since_s):
    """Return what ran down [L] from a time on while the valve was told to be shut."""
    if "flow_down" not in record.there or not np.isfinite(since_s):
        return 0.0
    rows = record.rows
    flow = rows.si(ch.FLOW_DOWN)
    mask = np.isfinite(flow) & (record.when_s > since_s) & (rows.state != modes.RUNNING)
    return float(np.sum(flow[mask] * row_seconds(rows)[mask])) * L_PER_M3


def _leak(record):
    leak = record.balance.leak
    acts = acted_of(record, ("71D-UP", "71D-FLT"))
    if leak is None or leak.kind in (TIGHT, UNKNOWN):
        return
    signs = [abs(one.normalised or 0.0) for one in (leak.litres, leak.litres_h) if one is not None]
    is_sure = max(signs, default=0.0) > SURE or bool(acts)
    if leak.kind != LEAK:
        if is_sure:
            yield Finding(UNSURE, leak.words, "Compare level and floats with a dipstick.")
        return
    noted = acted_of(record, OF_LEAK)
    since_s = noted[0].times_s[0][0] if noted and noted[0].times_s else None
    seen = f" The board noted it first at {record.at(since_s)}." if since_s is not None else (
        " When it began the record does not tell: the board noted none.")
    codes = f" ({', '.join(ELEMENTS[one.number].id for one in noted)})" if noted else ""
    yield Finding(
        LOOK if is_sure else NOTICE, f"{_lost(record, leak)}{seen}{codes}",
        "Walk along tank, penstock and valve and look for water. Once the tank is empty it leaks"
        " no more: that does not mean that it is tight again.", since_s, OF_LEAK)


def _lost(record, leak):
    """Return how much water is lost, and how fast where that is known."""
    whole = _missing(record)
    rate = leak.litres_h
    if not whole or rate is None or not rate.normalised or rate.normalised < SURE:
        return whole or leak.words
    return f"{whole} At rest it was {'{} +- {}'.format(*pair(rate))} L an hour."


def _missing(record):
    """Return how much water is lacking in all, where that is beyond doubt; "" if not."""
    water = record.balance.water
    parts = [water[key] for key in ("fill_residual", "discharge_residual", "rest_change")]
    if any(one is None for one in parts):
        return ""
    whole = parts[0] + parts[1] - parts[2]
    if whole.normalised is None or whole.normalised < SURE:
        return ""
    return ("The upper tank loses water: {} +- {} L went another way than through the turbine,"
            " at rest and while pump or light ran.".format(*pair(whole)))
