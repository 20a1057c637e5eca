"""Findings on protection: what is locked out, held off, acts still, or acted and is over."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from forebay.review.causes import level_at_end_m, water_left
from forebay.review.coming import pumping_lost, small
from forebay.review.finding import (
    HAPPENED,
    HELD,
    LOCKED,
    LOOK,
    NOTICE,
    Finding,
    Record,
    span_text,
    times_text,
)
from forebay.review.standing import Acted
from forebay.si import stored_si
from forebay.words.protection import ELEMENTS, SEEN
from keeper import channels as ch
from keeper.protection import elements

SIDES = {elements.PUMP: "the pump", elements.TURBINE: "the light", elements.BOTH: "pump and light"}
# A full or an empty tank ends what fills or empties it: that is their work.
ROUTINE = frozenset(("71H-UP", "71L-UP", "71L-LMP"))
# These say the same as a float of theirs, where that said it as well.
BY_LEVEL = frozenset(("71H-LVL", "71L-LVL"))
# What one says is said by the other as well, and more, while that acts.
# Of what has let go: why that is not the end of it.
AGAIN = {"71L-LO": "Water that came down again from above let it go: top the lower tank up, or it"
                   " stops the pump again on the next day of sun."}
FOLDED = {"71H-LVL": "71HH-UP"}
CHATTERS = 6             # acts of a routine element that are more than a day's work (a guess)
# From a float to the level that belies it, of the height between empty and full (a guess:
# five times the level's uncertainty on a tank of a metre).
BELIED_FRAC = 0.15
LONG_S = 1800.0          # of a day of sun that is missed (a guess)
SAFE = ("Nothing starts while it is locked out; even so shut the hand valve first, then open the"
        " isolator, before a hand goes near valve, turbine or pump.")
RESET_HERE = "Then reset at the rig: hold the board's button for 1 to 10 s."
RESET_ANYWHERE = ("Then reset: hold the board's button for 1 to 10 s, or, once somebody has been"
                  " there and looked, order `forebay dispatch reset`.")


def held(record: Record, folded: frozenset[str] = frozenset()) -> Iterator[Finding]:
    """Yield what protection did and does, in no order; folded: ids that others speak for."""
    standing = record.standing
    locked_by = 0
    if standing.lockout:
        locked_by = int(standing.lockout[0]["argument"])
        yield _locked(record)
    for at_s in standing.resets_s:
        yield Finding(HAPPENED, f"A person reset a lockout at {record.at(at_s)}.", "", at_s)
    for one in standing.acted.values():
        if one.number in ELEMENTS and one.number != locked_by and (
                ELEMENTS[one.number].id not in folded):
            found = _acted(record, one)
            if found:
                yield replace(found, folds=frozenset((ELEMENTS[one.number].id,)))


def belied(record: Record) -> frozenset[int]:
    """Return the numbers of the elements whose float the level contradicts."""
    return frozenset(one.number for one in record.standing.acted.values()
                     if one.number in ELEMENTS and _belied(record, one))


def kept_pump_off(record: Record) -> bool:
    """Return whether an element that is no daily work kept the pump off for long, or trips it."""
    for one in record.standing.acted.values():
        if one.number not in ELEMENTS:
            continue
        row = elements.ELEMENTS[one.number - 1]
        is_daily = ELEMENTS[one.number].id in ROUTINE | BY_LEVEL and not _belied(record, one)
        if is_daily or not row[elements.E_TARGET] & elements.PUMP or (
                row[elements.E_ACTION] < elements.INHIBIT):
            continue
        if one.acts_now or one.tripped or one.held_s(record.end_s) > LONG_S:
            return True
    return False


def _locked(record):
    event, at_s = record.standing.lockout
    number = int(event["argument"])
    said, row = ELEMENTS.get(number), _row(number)
    one = record.standing.acted.get(number)
    trips = max(int(event["argument2"]), one.tripped if one else 0)
    after = f" It tripped {times_text(trips)}." if trips > 1 else ""
    name = small(said.plain) if said else "a trip that these words do not know"
    code = said.id if said else f"element {number}"
    only_there = row is not None and row[elements.E_WHERE] == elements.AT_RIG
    return Finding(
        LOCKED, coded(f"Locked out since {record.at(at_s)}: {name}.{after} A lockout holds off"
                      f" pump and light alike, until a person resets it. {water_left(record)}"
                      f"{pumping_lost(record, [(at_s, record.end_s)])}", code),
        f"{SAFE} {said.look if said else 'Find the cause.'}"
        f" {RESET_HERE if only_there else RESET_ANYWHERE}", at_s, frozenset((code,)))


def coded(text: str, *codes: str) -> str:
    """Return sentences with the codes of what they speak of at their end, in brackets."""
    return f"{text.strip()} ({', '.join(codes)})"


def _row(number):
    return elements.ELEMENTS[number - 1] if 0 < number <= len(elements.ELEMENTS) else None


def _acted(record, one: Acted):
    """Return the finding of one element, None where it only did its daily work."""
    said, row = ELEMENTS[one.number], elements.ELEMENTS[one.number - 1]
    first_s = one.times_s[0][0] if one.times_s else float("nan")
    if _is_acting(record, FOLDED.get(said.id)):
        return None
    belied = _belied(record, one)
    if belied:
        return belied
    if said.id in ROUTINE or _is_borne_out(said.id, one):
        if one.count <= CHATTERS:
            return None
        often = f"{said.plain}. That was {times_text(one.count)}, more than a day's work."
        return Finding(HAPPENED, coded(often, said.id),
                       "Look for a float that chatters, a loose wire, or water that runs back.",
                       first_s)
    action, side = row[elements.E_ACTION], SIDES[row[elements.E_TARGET]]
    if one.acts_now:
        since_s = one.times_s[-1][0] if one.times_s else first_s
        again = f", {times_text(one.count)} in all" if one.count > 1 else ""
        if action >= elements.INHIBIT:
            return Finding(HELD, coded(
                f"{said.plain}. That is so since {record.at(since_s)}{again}, and still at the"
                f" end, {record.at(record.end_s)}. It holds off {side}."
                f"{_not_lifted(record, one, row)}", said.id), said.look, since_s)
        return Finding(LOOK, coded(
            f"{said.plain}. That is so since {record.at(since_s)}{again}, and still at the end.",
            said.id), said.look, since_s)
    return Finding(_gravity(action, said), _was(record, one, said, side, action, first_s),
                   f"{said.look} {AGAIN.get(said.id, '')}".strip(), first_s)


def _is_acting(record, element):
    return any(one.acts_now and one.number in ELEMENTS and ELEMENTS[one.number].id == element
               for one in record.standing.acted.values())


def _gravity(action, said):
    return NOTICE if said.look.startswith("Nothing to do") and action < elements.TRIP else HAPPENED


def _was(record, one, said, side, action, first_s):
    """Return in words what acted and is over."""
    did = "tripped" if action >= elements.TRIP else (
        "held off " + side if action >= elements.INHIBIT else "was noted")
    held_s = one.held_s(record.end_s)
    is_told = elements.INHIBIT <= action < elements.TRIP and not one.repeats and held_s > 0
    lasted = f", for {span_text(held_s)} in all" if is_told else ""
    when = f"at {record.at(first_s)}" if one.count == 1 else (
        f"{times_text(one.count)}, first at {record.at(first_s)}")
    if is_told and one.count == 1:
        when, lasted = (f"from {record.at(first_s)} to {record.at(one.times_s[0][1])}",
                        f" ({span_text(held_s)})")
    row = elements.ELEMENTS[one.number - 1]
    return coded(f"{said.plain}. It {did} {when}{lasted}, and has let go."
                 f"{_not_lifted(record, one, row)}", said.id)


def _not_lifted(record, one, row):
    """Return how much was not lifted while an element held off the pump; "" if it did not."""
    if not row[elements.E_TARGET] & elements.PUMP or row[elements.E_ACTION] < elements.INHIBIT:
        return ""
    return pumping_lost(record, [(begin_s, record.end_s if end_s is None else end_s)
                                 for begin_s, end_s in one.times_s])


def _is_borne_out(element, one):
    """Return whether the float of a level's element said the same, so that nothing is odd."""
    if element not in BY_LEVEL:
        return False
    place, _, _ = SEEN[element]
    return not one.first["contacts"] >> place & 1


def _belied(record, one):
    """Return the finding of a float of the upper tank that the level contradicts, or None."""
    element = ELEMENTS[one.number].id
    if element not in ("71H-UP", "71L-UP") or "level" not in record.there:
        return None
    level_m = float(stored_si(one.first["stored"][ch.LEVEL_MM: ch.LEVEL_MM + 1],
                              ch.LEVEL_MM)[0])
    low_m, full_m = record.level_m
    share = (level_m - low_m) / (full_m - low_m)
    odd = share < 1 - BELIED_FRAC if element == "71H-UP" else share > BELIED_FRAC
    if not np.isfinite(share) or not odd:
        return None
    says = "full" if element == "71H-UP" else "empty"
    end_m = level_at_end_m(record)
    now = f" It says so still at the end, with the level at {end_m:.2f} m." if (
        one.acts_now and np.isfinite(end_m)) else ""
    side = SIDES[elements.ELEMENTS[one.number - 1][elements.E_TARGET]]
    at_s = one.times_s[0][0] if one.times_s else float("nan")
    return Finding(
        HELD if one.acts_now else HAPPENED,
        coded(f"The {says} float of the upper tank said {says} from {record.at(at_s)} on,"
        f" but the level read {level_m:.2f} m then, where {says} is"
        f" {full_m if element == '71H-UP' else low_m:.2f} m: it held off {side}.{now}", element),
        "Follow the float's wire: is it cut? Move the float up and down by hand: does it stick?"
        " Then compare the level with a dipstick.", at_s)
