"""Findings on the record itself: what is lacking, broken off, uncertain or does not close.

And what still went on when it ended.
"""

from collections.abc import Iterator

import numpy as np

from forebay.balance.blame import NAMED, NONE, UNKNOWN
from forebay.balance.covered import row_seconds
from forebay.balance.ways import MEASURED
from forebay.review.causes import valve_open
from forebay.review.figures import COVERAGE, J_PER_WH
from forebay.review.finding import (
    HAPPENED,
    HELD,
    LOOK,
    NOTICE,
    S_PER_H,
    UNSURE,
    Finding,
    Record,
    span_text,
    times_text,
)
from forebay.review.lacking import COMPARE, COMPARE_ALL
from forebay.shelf.certainty import TELLING_BOUND_S
from forebay.shelf.local import bound_text
from forebay.words.link import RESET_REASONS
from keeper import channels as ch
from keeper import health, modes

GAP_TELLING_S = 600.0      # gaps in the rows that a person should know of (a guess),
MISSING_TELLING = 60       # and rows: as long, while something runs
LEAST_SUN_S = 1800.0       # of sun that should have been worth a trial (a guess)
UNCHARGED_FRAC = 0.25      # of what it gives: a day of sun brings back more (a guess)
LEAST_OFF_S = 60.0         # of a board that was off, that is worth a word; so far a row reaches
ERRORS = (health.WATCHDOG, health.SCAN_FAILED, health.SLACK_FAILED, health.START_FAILED)
GOES_ON = {
    modes.TRIAL: "The pump was on trial", modes.PUMPING: "The pump was running",
    modes.CLOSING: "The valve was still told to shut",
    modes.DRAINING: "Pump, filter and pipes were being drained",
    modes.MAINTENANCE: "Maintenance was ordered and everything stood",
}
MEANT = frozenset((modes.DRAINING, modes.MAINTENANCE))
FILLING = frozenset((modes.TRIAL, modes.PUMPING))


def doubts(record: Record, is_explained: bool = False) -> Iterator[Finding]:
    """Yield what is unfinished or uncertain, in no order.

    is_explained: whether a leak or a float at fault is why the meters do not agree.
    """
    yield from _goes_on(record)
    yield from _restarts(record)
    yield from _clock(record)
    yield from _holes(record)
    if not is_explained:
        yield from _meters(record)
    yield from _pump(record)
    yield from _battery(record)


def _goes_on(record):
    for told in record.rehearsed:
        if told.hours is not None and told.hours < 24:
            yield Finding(UNSURE, f"The rehearsal was broken off after {told.hours:.1f} h of the"
                          " day: there is no more of it.", "Rehearse anew for a whole one.")
    state = record.standing.state
    if state == modes.CLOSING and any(valve_open(record)):
        return  # that says it, and more
    if state in GOES_ON:
        if record.goes_on:
            yield Finding(NOTICE, f"{GOES_ON[state]} when this time ends, at"
                          f" {record.at(record.end_s)}; the shelf goes on.",
                          "The figures are of a part: ask for a time that ends later.")
            return
        if state in FILLING:
            return  # whoever pulls by day finds it so: the filling goes on
        do = "End it by `forebay dispatch` when the work is done." if state in MEANT else (
            "Pull again when it is over: the figures are of a part.")
        yield Finding(HELD if state in MEANT else UNSURE,
                      f"{GOES_ON[state]} when the record ends, at {record.at(record.end_s)}.", do)


def _restarts(record):
    first_s = record.begin_s
    later = [(event, at_s) for event, at_s in record.standing.starts
             if not at_s <= first_s and event["boot"] > 1]
    if not later:
        return
    reasons = [int(event["argument"]) for event, _ in later]
    names = sorted({RESET_REASONS.get(reason, f"reason {reason}") for reason in reasons})
    error = any(reason in ERRORS for reason in reasons)
    do = ("Look at the last error: `forebay watch`." if error else
          "If nobody cut the power, look at the buffer battery, its fuse and its leads."
          if health.POWER_ON in reasons else "")
    yield Finding(HAPPENED if error or health.POWER_ON in reasons else NOTICE,
                  f"The board restarted {times_text(len(later))}, last at"
                  f" {record.at(later[-1][1])} ({'; '.join(names)}).{_off(record)}", do,
                  later[0][1])


def _off(record):
    """Return for how long the board was off before its last start, in a sentence; or ""."""
    if record.off_s is None:
        return ""
    least_s, most_s = record.off_s
    if not np.isfinite(most_s):
        return (" How long it was off before that nothing tells: no pull lies between." if
                not least_s or not np.isfinite(least_s) else
                f" It was off for at least {span_text(least_s)} before that.")
    if most_s < LEAST_OFF_S:
        return ""
    if most_s - least_s < LEAST_OFF_S:
        return f" It was off for {span_text(most_s)} before that."
    return f" It was off for between {span_text(least_s)} and {span_text(most_s)} before that."


def _clock(record):
    if record.standing.clock_wanted:
        yield Finding(HELD, "Nobody has set the board's clock since it started: light by the clock"
                      " waits.", "Order `forebay dispatch clock`.")
    bound_s = record.balance.time_bound_s
    unknown = not np.isfinite(record.when_s).all()
    if unknown and not np.isfinite(record.when_s).any():
        yield Finding(UNSURE, "No time of this record is known: no pull has tied the board's count"
                      " to a clock.", "Pull the board once more, from a computer whose clock is"
                      " right.")
    elif bound_s is None or bound_s > TELLING_BOUND_S:
        yield _vague(record, bound_s)


def _vague(record, bound_s):
    """Return the finding of times that are not known well."""
    if bound_s is not None:
        return Finding(UNSURE, f"Some times may be off by {bound_text(bound_s)[3:]}: the board was"
                       " long without a pull, or cut off.",
                       "Pull at least every two weeks, and before you cut the power.")
    cut = record.standing.starts[-1][1] if record.standing.starts else None
    return Finding(
        UNSURE, f"The times before {record.at(cut)} are the latest that they can be: nobody pulled"
        " between the cut and the start before it, so nothing tells how long the board was off.",
        "These times stay so. Pull at least every two weeks, and before you cut the power.")


def _holes(record):
    found = record.journal
    if found.not_pulled:
        yield Finding(UNSURE, f"The pull broke off: the board has more than the shelf"
                      f" ({len(found.not_pulled)} files).", "Pull again: it goes on where it"
                      " stopped.")
    lost = [line for line in found.lines() if not line.startswith("Not wholly")]
    if found.damaged_bytes or found.conflicting_rows or found.damaged_headers:
        yield Finding(UNSURE, f"{lost[0]}.".replace("..", "."),
                      "Run `forebay check`: it says what is damaged, and between which times.")
    if record.standing.segments_lost:
        yield Finding(UNSURE, "The board's journal was full and gave up"
                      f" {record.standing.segments_lost} of its segments.", "Pull more often:"
                      " `forebay check` says within how many days.")
    stretches = len(record.balance.stretches_s)
    if stretches > 1:
        yield Finding(UNSURE, f"The record has {stretches} stretches with nothing known between"
                      " them: the figures leave that time out.", "Pull again, or see with"
                      " `forebay check` why it is lost.")
        return
    missing = sum(last - first + 1 for first, last in found.missing_rows)
    gap_s = record.balance.gap_s
    if missing >= MISSING_TELLING or gap_s > GAP_TELLING_S:
        long = f", {span_text(gap_s)} in all" if gap_s else ""
        yield Finding(UNSURE, f"{missing} rows are missing{long}; the totals bridge them.",
                      "Run `forebay check`: it says why.")


def _meters(record):
    """Yield which meter is off, or that the meters do not agree, where that is beyond chance."""
    blame = record.balance.blame
    if blame is None or blame.kind in (NONE, UNKNOWN):
        return
    yield Finding(UNSURE, blame.words, COMPARE if blame.kind == NAMED else COMPARE_ALL)


def _pump(record):
    """Yield that the pump never ran in a time that had daylight."""
    for event, at_s in record.standing.sun_unused[-1:]:
        yield Finding(HAPPENED, "Daylight, and the pump did not start: unloaded, the panel showed"
                      f" {event['argument2'] / 1000:.1f} V at most.",
                      "Nothing to do on a dull day; in full sun look for shade, dirt or a bad"
                      " joint, and see whether limits.start_voltage is too high for a hot panel.",
                      at_s)
    if record.balance.pump_h > 0 or record.standing.sun_unused:
        return
    rows = record.rows
    sunny = rows.si(ch.PANEL_MV) > record.plant["limits.start_voltage_V"]
    if np.sum(row_seconds(rows)[sunny]) > LEAST_SUN_S:
        yield Finding(HAPPENED, "The pump did not run at all, though the panel had the voltage to"
                      " start it.", "See above what held it off; if nothing did, look whether an"
                      " order forbids it (`forebay watch`).")


def _battery(record):
    """Yield that the buffer battery took next to nothing on a day on which the pump ran."""
    taken, given = (record.balance.energies[key] for key in ("supply_in", "supply_out"))
    ways = [record.balance.told[key].kind for key in ("supply_in", "supply_out")]
    if taken is None or given is None or set(ways) != {MEASURED}:
        return
    if record.balance.pump_h * S_PER_H < LEAST_SUN_S:
        return
    if taken.value + COVERAGE * taken.u < UNCHARGED_FRAC * given.value:
        yield Finding(LOOK, f"The buffer battery took {taken.value / J_PER_WH:.2f} Wh on a day of"
                      f" sun and gave {given.value / J_PER_WH:.2f} Wh: it is not charged.",
                      "Look at its charger, fuse and leads before the board goes dark.")
