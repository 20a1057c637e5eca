"""What is said of a time that had no light, or none that lasted."""

from collections.abc import Sequence

import numpy as np

from forebay.balance.covered import row_seconds
from forebay.balance.nights import DOWN_DEG
from forebay.review.causes import OF_FROST, is_frozen
from forebay.review.coming import EMPTY, light_lost
from forebay.review.daylight import elevation_deg, is_night_since
from forebay.review.finding import (
    HAPPENED,
    NOTICE,
    S_PER_H,
    Finding,
    Record,
    span_text,
    times_text,
)
from forebay.review.verdict import (
    BELOW,
    LEAST_LIGHT_S,
    USED_UP,
    Night,
    ident,
    length_s,
    plain,
    till,
    what_to_do,
)
from forebay.words.protection import ELEMENTS
from keeper import channels as ch
from keeper import modes
from keeper.protection import elements

DARK_FRAC = 0.05        # of the panel's open voltage: it is night


def never_lasted(record: Record, others: Sequence[Finding]) -> Night:
    """Return the verdict of lights that were all out again at once."""
    tries = record.standing.lights
    longest_s = max(length_s(record, one) for one in tries)
    said = (f"No light that lasted: it was begun {times_text(len(tries))}, first at"
            f" {record.at(tries[0].begin_s)}, and was out again within {span_text(longest_s)}.")
    spent = _spent_before(record)
    if spent and all(ident(one.element) in EMPTY for one in tries):
        return Night(None, "tank used up", Finding(
            NOTICE, f"{said} The water had lasted till {record.at(spent.end_s)}, before this"
            " time.", USED_UP, tries[0].begin_s))
    return Night(False, "no light", Finding(
        HAPPENED, f"{said}{light_lost(record)}",
        what_to_do(others, [one.element for one in tries]), tries[0].begin_s))


def no_light(record: Record, others: Sequence[Finding]) -> Night:
    """Return the verdict of a time without light."""
    rows = record.rows
    if np.count_nonzero(rows.state == modes.RUNNING):
        return Night(None, "cannot tell", Finding(
            NOTICE, "There was light, but no event tells when it began or ended."))
    if record.standing.lockout:
        event, at_s = record.standing.lockout
        what = plain(int(event["argument"]))
        return _held_off(record, f"locked out since {record.at(at_s)}"
                         + (f". {what}" if what else ""), BELOW)
    holding = _holding(record)
    empty = [one for one in holding if ident(one) in EMPTY]
    if holding and holding != empty:
        return _held_off(record, _named(record, holding), what_to_do(others, holding))
    if spent := _spent_before(record):
        return Night(None, "tank used up", Finding(
            NOTICE, f"No light in this time: the water had lasted till {record.at(spent.end_s)},"
            f" before it; light was wanted {till(record)}.", USED_UP))
    if not _has_night(record):
        return Night(None, "no night in it", Finding(
            NOTICE, "No night is in this time, as far as panel or sun tell: no light came, and"
            " none was due."))
    if empty:
        return _held_off(record, _named(record, empty), what_to_do(others, empty))
    return Night(None, "no light", Finding(
        NOTICE, "No light came, and nothing held it off: none was asked for, or no water was"
        " there.", "See whether the night's light is set as you want it: section [night] of the"
        " rig's description."))


def _held_off(record, why, do):
    """Return the verdict that there was no light because of what held it off."""
    return Night(False, "no light", Finding(
        HAPPENED, f"No light: {why}.{light_lost(record)}", do))


def _holding(record):
    """Return the numbers of the elements that hold the light off at the end, in order."""
    return [one.number for one in record.standing.acted.values()
            if one.acts_now and one.number in ELEMENTS
            and elements.ELEMENTS[one.number - 1][elements.E_TARGET] & elements.TURBINE
            and elements.ELEMENTS[one.number - 1][elements.E_ACTION] >= elements.INHIBIT]


def _named(record, numbers):
    """Return what elements say, in one sentence without its end."""
    names = "; ".join("The pipes are frozen" if ident(one) in OF_FROST and is_frozen(record)
                      else plain(one) for one in numbers)
    return names[0].lower() + names[1:]


def _has_night(record):
    """Return whether the panel was dark for long, or the sun down; so where neither tells."""
    panel_V, seconds = record.rows.si(ch.PANEL_MV), row_seconds(record.rows)
    known = np.isfinite(panel_V)
    if known.any():
        dark = known & (panel_V < DARK_FRAC * float(np.nanmax(panel_V)))
        return bool(np.sum(seconds[dark]) > S_PER_H)
    timed = np.isfinite(record.when_s)
    if not timed.any():
        return True
    down = elevation_deg(record.when_s[timed], *record.place) < DOWN_DEG
    return bool(np.sum(seconds[timed][down]) > S_PER_H)


def _spent_before(record):
    """Return the light of the same night that used the water up before the time, None = none."""
    lights = [one for one in record.standing.lights_before
              if one.end_s is not None and one.end_s - one.begin_s >= LEAST_LIGHT_S]
    if not lights or lights[-1].cause != modes.STOPPED or ident(lights[-1].element) not in EMPTY:
        return None
    return lights[-1] if is_night_since(record, lights[-1].end_s) else None
