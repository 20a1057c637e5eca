"""A replay in a terminal, in 80 columns and without colour, and as a document."""

import re
import textwrap
from datetime import tzinfo
from typing import Any

from forebay.replay import jobs
from forebay.replay.asked import Outcome
from forebay.replay.comparing import Event
from forebay.replay.figures import FIGURES
from forebay.replay.timeline import DS_PER_S
from forebay.shelf.local import iso_local, maybe_iso
from forebay.words.measured import CHANNELS
from forebay.words.operation import CAUSES, ORDERS, STATES
from forebay.words.protection import ELEMENTS
from forebay.words.rig import SETTINGS
from keeper import events as ev

WIDTH = 80
MOST_SHOWN = 12          # events of a kind; all are in the document
SAME_S = 60.0            # from what was asked for: less is no other span
LABEL, COLUMN = 30, 12
POINT = re.compile(r"_\d+_")     # in a setting's name: one of many of a curve
_BEGINS = {jobs.AT_START: "the board started", jobs.AT_REST: "the rig stood still by day",
           jobs.AT_RECORD: "the record begins"}
CAUTION = ("A replay is no proof: it reads means of rows, and where the settings part from the"
           " record a model of the rig. Limits that guard people or the rig are not moved by it"
           " alone.")


def parted_by(one: dict) -> str:
    """Return in words how the keeper parted from the record, as the process told it."""
    was, state = STATES[one["meant"]].name, STATES[one["state"]].name
    if one["setpoint_mW"] is not None:
        return f"the light is held at {one['setpoint_mW'] / 1000:g} W"
    if was == state:
        return f"{was} goes on where the record left it: {CAUSES[one['cause']].name}"
    return f"{state} where the record has {was}"


def lines(outcome: Outcome, zone: tzinfo) -> list[str]:
    """Return what the terminal shows."""
    time = outcome.span.time
    found = [f"Replayed: {iso_local(time.utc_s(outcome.span.begin), zone)} to"
             f" {iso_local(time.utc_s(outcome.span.end), zone)}", *_asked(outcome.span, zone),
             *_tried(outcome)]
    for part in (_again(outcome, zone), _apart(outcome, zone), _figures(outcome)):
        found += ["", *part] if part else []
    for note in notes(outcome, zone):
        found += ["", *textwrap.wrap(note, WIDTH, break_on_hyphens=False)]
    return found


def _asked(span, zone):
    """Return what was asked for and why another span was replayed; [] where they are the same."""
    begin_s, end_s = span.time.utc_s(span.begin), span.time.utc_s(span.end)
    why = []
    if begin_s < span.asked[0] - SAME_S:
        why.append(f"It begins where {_BEGINS[span.begins_at]}, the last place before from which"
                   " the board's state is known.")
    elif begin_s > span.asked[0] + SAME_S:
        why.append("Nothing before is recorded.")
    if end_s < span.asked[1] - SAME_S:
        why.append("The record ends there.")
    if not why:
        return []
    asked = " to ".join(iso_local(one, zone) for one in span.asked)
    return textwrap.wrap(f"Asked for: {asked}. {' '.join(why)} All that follows is of the time"
                         " replayed.", WIDTH, initial_indent="  ", subsequent_indent="  ")


def _tried(outcome):
    if not outcome.keys:
        return ["No setting is changed: how well the record comes again."]
    keys = [one.key for one in outcome.keys]
    found = ["Tried:", *_wrapped(one.words for one in outcome.keys)]
    # What only says such a key in another unit says nothing new.
    more = [one for one in outcome.tried if one.keys not in [(key,) for key in keys]]
    curves = [one for one in more if POINT.search(one.name)]
    if more:
        found += ["What follows from it on the board:",
                  *_wrapped(one.words for one in more if one not in curves)]
    if curves:
        found.append(f"  points of the light's curves: {len(curves)} (--json lists them)")
    return found if outcome.tried else [*found, "Nothing of it is a setting of the board."]


def _wrapped(texts):
    return [line for text in texts for line in textwrap.wrap(
        text, WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)]


def _again(outcome, zone):
    """Return how well the record comes again under its own settings."""
    again = outcome.again
    head = (f"Under its own settings {len(again.reproduced)} of {again.recorded} recorded events"
            " come again.")
    found = textwrap.wrap(head, WIDTH, break_on_hyphens=False)
    for why in dict.fromkeys(one.why for one in again.undecidable):
        found += _listed(f"Not decided, for {why}:", [
            one.event for one in again.undecidable if one.why == why], outcome, zone)
    found += _listed("Recorded, and did not come again:", again.gone, outcome, zone)
    found += _listed("Came again, and is not recorded:", again.new, outcome, zone)
    return found


def _listed(head: str, events: list[Event], outcome: Outcome, zone: tzinfo) -> list[str]:
    if not events:
        return []
    found = textwrap.wrap(head, WIDTH, break_on_hyphens=False)
    found += [f"  {_when(outcome, one.tick, zone)}  {one.words}" for one in events[:MOST_SHOWN]]
    if len(events) > MOST_SHOWN:
        found.append(f"  ... and {len(events) - MOST_SHOWN} more (--json lists them)")
    return found


def _when(outcome, tick, zone):
    return iso_local(outcome.span.time.utc_s(tick), zone, "%d %b %H:%M:%S")


def _apart(outcome, zone):
    """Return what the tried settings change."""
    if not outcome.tried:
        return []
    apart, shifted = outcome.apart, outcome.shifted
    if not (apart.gone or apart.new or shifted):
        return ["With the settings tried nothing happens otherwise."]
    found = ["With the settings tried:"]
    found += _listed("no longer:", apart.gone, outcome, zone)
    found += _listed("newly:", apart.new, outcome, zone)
    found += _acting(outcome)
    if shifted:
        found.append("at another time:")
        found += [f"  {_when(outcome, old.tick, zone)}  {old.words}: now"
                  f" {_when(outcome, new.tick, zone)[7:]}" for old, new in shifted[:MOST_SHOWN]]
        if len(shifted) > MOST_SHOWN:
            found.append(f"  ... and {len(shifted) - MOST_SHOWN} more (--json lists them)")
    return found


def _acting(outcome):
    """Return in words what each element newly saw, so that its code and figures are understood."""
    numbers = sorted({one.element for one in outcome.apart.new if one.element in ELEMENTS
                      and one.key[0] == ev.ACTED})
    found = _wrapped(f"{ELEMENTS[one].id}: {ELEMENTS[one].plain}." for one in numbers)
    if jobs.THERMAL not in numbers:
        return found
    base = next((one.words for one in outcome.tried if one.name == "thermal_base_mA"), None)
    why = f" The limit tried moves it ({base})." if base else ""
    return [*found, *_wrapped([
        f"{ELEMENTS[jobs.THERMAL].id} reckons with the motor's current and no thermometer: it may"
        f" trip while the motor reads cooler than motor.trip_temperature.{why}"])]


def _figures(outcome):
    """Return the table of figures: recorded, again, and as tried."""
    columns = [("recorded", outcome.was), ("again", outcome.same)]
    if outcome.tried:
        columns.append(("tried", outcome.now))
    found = ["Recorded, replayed again under its own settings"
             + (", and as tried:" if outcome.tried else ":"),
             " " * LABEL + "".join(f"{name:>{COLUMN}}" for name, _ in columns)]
    for figure in FIGURES:
        shown = ["-" if values[figure.key] is None else f"{values[figure.key]:.{figure.digits}f}"
                 for _, values in columns]
        found.append(f"{figure.label:{LABEL}}" + "".join(f"{one:>{COLUMN}}" for one in shown))
    return found


def notes(outcome: Outcome, zone: tzinfo) -> list[str]:
    """Return what is to be known of a replay, one sentence or two each."""
    span, told = outcome.span, outcome.came.told
    found = []
    for one in told["parted"]:
        if "doubt" in one:
            found.append(f"From {_when(outcome, one['tick'], zone)} on not recorded but modelled:"
                         f" {parted_by(one)}.{_doubt(one['doubt'])}")
    for tick in told["returned"]:
        found.append(f"From {_when(outcome, tick, zone)} on by the record again: rig and record"
                     " stood alike.")
    if told["ended"] == "no sun":
        at = told["parted"][-1]["tick"]
        found.append(f"Ends at {_when(outcome, at, zone)}: from there on it would have to be"
                     " modelled, and nothing tells the sun (no meter reads the panel).")
    for one in outcome.untold:
        found.append(f"Ordered at {_when(outcome, one.tick, zone)}: {ORDERS[one.code].name}."
                     f" Its arguments are not in the journal: {one.why}.")
    if not outcome.knows_heat:
        found.append("How warm the motor's thermal model was at the begin is not known: taken"
                     " as hot as the record allows.")
    for first, last in span.time.gaps:
        if last > span.begin and first < span.end:
            found.append(f"Rows are missing from {_when(outcome, first, zone)} to"
                         f" {_when(outcome, last, zone)}: what happened there is not decided.")
    if told["parted"] and any("doubt" in one for one in told["parted"]):
        found += span.conditions.notes
    return found


def _doubt(doubt):
    """Return in words what the model was fitted by."""
    said = []
    if "motor_K" in doubt:
        said.append(f"the motor's cooling is fitted to the minutes before, within"
                    f" {doubt['motor_K']:.2g} K, at {doubt['motor_resistance_ratio']:.2g} times"
                    " the described resistance")
    said += [f"{tagged.tag} reads {doubt[name]:.2f} times the model"
             for name, tagged in CHANNELS.items() if name in doubt]
    return f" Carried on: {'; '.join(said)}." if said else ""


def document(outcome: Outcome) -> dict[str, Any]:
    """Return the replay as a JSON document, as described in docs/json.md."""
    span, told, time = outcome.span, outcome.came.told, outcome.span.time

    def event(one):
        return {"utc": maybe_iso(time.utc_s(one.tick)), "event": one.words,
                "cause_lasted_s": one.lasts / DS_PER_S}

    return {
        "rig": span.rig.rig.name,
        "begin_utc": maybe_iso(time.utc_s(span.begin)),
        "end_utc": maybe_iso(time.utc_s(span.end)),
        "asked_begin_utc": maybe_iso(span.asked[0]),
        "asked_end_utc": maybe_iso(span.asked[1]),
        "keys": [one._asdict() for one in outcome.keys],
        "settings": [{"name": one.name, "meaning": SETTINGS[one.name], "keys": one.keys,
                      "was": one.was, "tried": one.tried} for one in outcome.tried],
        "recorded_events": outcome.again.recorded,
        "again": [event(one) for one in outcome.again.reproduced],
        "undecidable": [{**event(one.event), "why": one.why}
                        for one in outcome.again.undecidable],
        "wrong": [event(one) for one in outcome.again.wrong],
        "no_longer": [event(one) for one in outcome.apart.gone],
        "newly": [event(one) for one in outcome.apart.new],
        "shifted": [{**event(old), "now_utc": maybe_iso(time.utc_s(new.tick))}
                    for old, new in outcome.shifted],
        "figures": {figure.key: {"recorded": outcome.was[figure.key],
                                 "again": outcome.same[figure.key],
                                 "tried": outcome.now[figure.key]} for figure in FIGURES},
        "modelled": [{"from_utc": maybe_iso(time.utc_s(one["tick"])), "why": parted_by(one),
                      "carried": one["doubt"]} for one in told["parted"] if "doubt" in one],
        "by_record_again": [maybe_iso(time.utc_s(tick)) for tick in told["returned"]],
        "ended": told["ended"],
        "untold_orders": [{"utc": maybe_iso(time.utc_s(one.tick)), "order": ORDERS[one.code].name,
                           "why": one.why} for one in outcome.untold],
        "missing": [{"from_utc": maybe_iso(time.utc_s(first)),
                     "to_utc": maybe_iso(time.utc_s(last))} for first, last in time.gaps
                    if last > span.begin and first < span.end],
        "notes": span.conditions.notes,
        "scans": told["scans"],
    }
