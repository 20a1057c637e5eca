"""Was the night good: the light as long as it was wanted, at the power that was set.

The verdict is one finding, and always the first.  It says what ended the light, and how much
of it there was; why something held it off is told by the findings on protection.
"""

from collections.abc import Sequence

import numpy as np

from forebay.balance.covered import row_seconds
from forebay.review.coming import EMPTY, light_lost, planned_W
from forebay.review.daylight import WENT_DARK
from forebay.review.finding import (
    HAPPENED,
    LOOK,
    NOTICE,
    S_PER_H,
    S_PER_MIN,
    Finding,
    Record,
    span_text,
    times_text,
)
from forebay.review.held import kept_pump_off
from forebay.review.nolight import never_lasted, no_light
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
from keeper import channels as ch
from keeper import modes

# The governor's promise is 5 % of the setpoint (host/docs/design.md); the lamps' two meters
# add as much again at their stated limits.
NEAR_FRAC = 0.10
HELD_FRAC = 0.90        # of the time that it is to be there (a guess: a start and an end)
SETTLES_S = 120.0       # a light opens gently, and the water hammers no pipe (a guess)
EARLY_FRAC = 0.85       # of the time that was told: its plan is better than that (a guess)
MOST_BEYOND_H = 0.25    # of lit lamps while the valve shuts (a guess)
NO_WATTS_W = 0.01       # a generator that gives less gives none: below what its meter resolves
LONG_DARK_S = 3600.0    # without light, before the record ends (a guess)


def night(record: Record, others: Sequence[Finding] = ()) -> Night:
    """Return the verdict of a time; others: the findings that are told below it."""
    lights = [one for one in record.standing.lights if length_s(record, one) >= LEAST_LIGHT_S
              or one.end_s is None]
    lit_s = sum(length_s(record, one) for one in lights)
    if not lights and record.standing.lights:
        return never_lasted(record, others)
    if not lights:
        return no_light(record, others)
    last = lights[-1]
    said = _said_of(record, lights, lit_s)
    if _gives_nothing(record):
        return Night(False, "no watts", Finding(
            LOOK, f"The valve was open for light for {span_text(lit_s)} and the generator gave no"
            " watts.", "Does the turbine turn? Look at the hand valve, the nozzle and the leads of"
            " the generator.", lights[0].begin_s))
    if any(one.what.startswith(WENT_DARK) for one in others):
        return Night(False, "light by day", Finding(
            HAPPENED, f"{_burned(record, lights)} It came by day, because the panel read dark"
            f"{'; the evening had none' if _is_over(record, lights) else ''}.",
            BELOW, lights[0].begin_s))
    if record.is_long:
        return _many(record, lights, said, others)
    if last.end_s is None and record.goes_on:
        return Night(None, "not over", Finding(
            NOTICE, f"{said} The light was still on when this time ends, at"
            f" {record.at(record.end_s)}; the shelf goes on.",
            "For the whole night ask for a time that ends later.", last.begin_s))
    if last.end_s is None:
        return Night(None, "not over", Finding(
            NOTICE, f"{said} The light was still on when the record ends, at"
            f" {record.at(record.end_s)}: the night is not over.",
            "Pull again in the morning.", last.begin_s))
    return _ended(record, lights, said, others)


def _many(record, lights, said, others):
    """Return the verdict of several nights: how many lights ended how."""
    element = [ident(one.element) for one in lights]
    wanted = sum(one.cause in (modes.LIGHT_OVER, modes.ORDERED_OFF) for one in lights)
    spent = sum(one.cause == modes.STOPPED and name in EMPTY
                for one, name in zip(lights, element, strict=True))
    on = sum(one.end_s is None for one in lights)
    cut = len(lights) - wanted - spent - on
    ends = [f"{count} {how}" for count, how in (
        (wanted, "as long as wanted"), (spent, "till the water was spent"),
        (cut, "cut off"), (on, "still on at the end")) if count]
    return Night(not cut and not spent, f"{len(lights)} lights", Finding(
        HAPPENED if cut else NOTICE, f"{said} Of these {', '.join(ends)}.",
        what_to_do(others, [one.element for one in lights if one.cause in (
            modes.TRIPPED, modes.STOPPED) and ident(one.element) not in EMPTY]),
        lights[0].begin_s))


def _ended(record, lights, said, others):
    last = lights[-1]
    cut = [one for one in lights if one.cause in (modes.TRIPPED, modes.STOPPED)]
    element = ident(last.element)
    when = record.at(last.end_s)
    if last.cause == modes.TRIPPED or (last.cause == modes.STOPPED and element not in EMPTY):
        return _cut_off(record, lights, others)
    if last.cause == modes.STOPPED:
        return _spent(record, lights)
    if last.cause == modes.ORDERED_OFF:
        return Night(None, "ordered off", Finding(
            NOTICE, f"{said} An order ended it at {when}.", "", last.begin_s))
    if last.cause is None:
        return Night(False, "light broke off", Finding(
            HAPPENED, f"{said} It broke off at {when}, when the board restarted.",
            "See below why the board started.", last.begin_s))
    share = _share_near(record)
    if share is not None and share < HELD_FRAC:
        return Night(False, "dimmer than set", Finding(
            NOTICE, f"{said} It lasted as long as wanted, but only {share:.0%} of that time within"
            f" {NEAR_FRAC:.0%} of the power that was planned.",
            "Compare level, nozzle and strainer of the penstock with the plan.", last.begin_s))
    broke = f" {_times(len(cut))} it broke off and came again." if cut else ""
    return Night(not cut, "good night" if not cut else "light broke off", Finding(
        NOTICE, f"{said} It lasted as long as wanted, till {when}.{broke}", "", last.begin_s))


def _cut_off(record, lights, others):
    """Return the verdict of a light that protection ended: the lamps may have burned on."""
    last = lights[-1]
    do = what_to_do(others, [last.element])
    what = plain(last.element)
    why = f" {what}." if what else ""
    beyond_h = record.balance.light_h - sum(length_s(record, one) for one in lights) / S_PER_H
    if beyond_h > MOST_BEYOND_H:
        return Night(False, "light not stopped", Finding(
            HAPPENED, f"{_burned(record, lights)} At {record.at(last.end_s)} protection told the"
            f" valve to shut, and the lamps burned on for {beyond_h:.1f} h more:"
            f" {record.balance.light_h:.1f} h in all.{why}", do, last.begin_s))
    return Night(False, "light cut off", Finding(
        HAPPENED, f"{_burned(record, lights)} It was cut off at {record.at(last.end_s)}, while"
        f" light was wanted.{why}{light_lost(record)}", do, last.begin_s))


def _burned(record, lights):
    """Return how long there was light, and from when on."""
    lit_s = sum(length_s(record, one) for one in lights)
    return f"Light for {span_text(lit_s)}{_since(record, lights)}."


def _since(record, lights):
    """Return how often there was light, and from when on: that may be before the time."""
    times = "" if len(lights) == 1 else f", {times_text(len(lights))}"
    begin = record.at(lights[0].begin_s)
    if lights[0].begin_s < record.begin_s:
        return f" of this time{times}, on since {begin}"
    return f"{times}, from {begin}"


def _is_over(record, lights):
    """Return whether the last light was out well before the record ends."""
    end_s = lights[-1].end_s
    return end_s is not None and record.end_s - end_s > LONG_DARK_S


def _spent(record, lights):
    """Return the verdict of a night whose water ran out: why, as far as the record shows."""
    first = next(one for one in lights if one.element == lights[-1].element)
    plan = next((one for one in record.standing.plans if one.minutes is not None
                 and lights[0].begin_s - 1 <= one.utc_s), None)
    told = f" The board had reckoned with {plan.minutes / 60:.1f} h." if plan else ""
    power = _mean_W(record)
    at = f" At {power:.2f} W" if power is not None else " There"
    what = (f"{_burned(record, lights)}{at} the water lasted till {record.at(first.end_s)};"
            f" light was wanted {till(record)}.{told}")
    early = plan and (first.end_s - plan.utc_s) / S_PER_MIN < EARLY_FRAC * plan.minutes
    if early:
        return Night(False, "water gone early", Finding(
            NOTICE, f"{what} Some of the water went elsewhere.",
            "Look for a leak: walk along tank, penstock and valve.", lights[-1].begin_s))
    if kept_pump_off(record):
        return Night(False, "short of water", Finding(
            NOTICE, f"{what} The pump was kept off by day.", "See below what kept it off.",
            lights[-1].begin_s))
    return Night(None, "tank used up", Finding(
        NOTICE, what, USED_UP, lights[-1].begin_s))


def _times(count):
    return times_text(count).capitalize()


def _said_of(record, lights, lit_s):
    """Return how much light there was, and at which power."""
    power = _mean_W(record)
    at = f", at {power:.2f} W" if power is not None else ""
    planned = planned_W(record)
    is_near = power is not None and planned and abs(power - planned) <= NEAR_FRAC * planned
    wanted = "" if not at or not planned else (
        ", as planned" if is_near else f" ({planned:.2f} W was planned)")
    return f"Light for {lit_s / S_PER_H:.1f} h{_since(record, lights)}{at}{wanted}."


def _lit_rows(record):
    """Return (mask of rows in which the light had settled, their seconds [s])."""
    rows = record.rows
    running = rows.state == modes.RUNNING
    settled = running.copy()
    since_s = record.when_s
    for one in record.standing.lights:
        settled &= ~((since_s >= one.begin_s) & (since_s < one.begin_s + SETTLES_S))
    return settled, row_seconds(rows)


def _lamp_W(rows):
    return rows.si(ch.GENERATOR_MV) * rows.si(ch.LAMP_MA)


def _mean_W(record):
    lit, seconds = _lit_rows(record)
    power = _lamp_W(record.rows)
    known = lit & np.isfinite(power)
    if not known.any():
        return None
    return float(np.average(power[known], weights=seconds[known]))


def _share_near(record):
    """Return the share of the light that was near the planned power, None if not known."""
    lit, seconds = _lit_rows(record)
    power = _lamp_W(record.rows)
    known = lit & np.isfinite(power)
    if not np.any(seconds[known]):
        return None
    times = np.array([one.utc_s for one in record.standing.plans])
    planned = np.array([one.power_mW / 1e3 for one in record.standing.plans])
    if len(times):
        place = np.clip(np.searchsorted(times, record.when_s[known], side="right") - 1, 0, None)
        wanted = planned[place]
    else:
        wanted = np.full(np.count_nonzero(known), record.set_power_W)
    near = power[known] >= (1 - NEAR_FRAC) * wanted
    return float(np.sum(seconds[known][near]) / np.sum(seconds[known]))


def _gives_nothing(record):
    """Return whether no light had any power, where its meters are there."""
    lit, seconds = _lit_rows(record)
    rows = record.rows
    power = rows.si(ch.GENERATOR_MV) * rows.si(ch.GENERATOR_MA)
    power = np.where(np.isfinite(power), power, _lamp_W(rows))
    known = lit & np.isfinite(power)
    return bool(np.sum(seconds[known]) > SETTLES_S and np.all(power[known] < NO_WATTS_W))
