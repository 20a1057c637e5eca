"""From what a person wishes to an order, and the sight that it took effect.

Each wish names its order and the registers that show it afterwards.  It must
not know how an order travels.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from forebay.dispatch.errors import DispatchError
from forebay.dispatch.sending import Outcome, send
from forebay.si import maybe_si, unit_of
from forebay.units import UnitError, parse
from forebay.wire.client import Board, NoAnswer
from forebay.words.operation import ORDERS, REFUSALS
from forebay.words.protection import ELEMENTS
from keeper.operation import orders

DS_PER_MIN = 600
MIN_PER_H = 60
# What may pass between an order and the reading that confirms it [0.1 s].
PASSED_DS = 300
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

Live = dict[str, int]


@dataclass(frozen=True)
class Wish:
    """An order as a person means it.

    text: what will be so, in words; shows: registers that show it; holds:
    whether their values say that it is so.
    """

    code: int
    a: int
    b: int
    text: str
    shows: tuple[str, ...]
    holds: Callable[[Live], bool]


@dataclass(frozen=True)
class Report:
    """What was ordered, and what the board showed afterwards; `as_json` is for programs."""

    wish: Wish
    outcome: Outcome
    shown: Live = field(default_factory=dict)

    def as_json(self) -> dict:
        """Return the report as documented in docs/json.md."""
        return {
            "order": ORDERS[self.wish.code].name,
            "argument_a": self.wish.a,
            "argument_b": self.wish.b,
            "signed": self.outcome.signed,
            "board_left": self.outcome.gone,
            "shown": self.shown,
        }

    def lines(self) -> list[str]:
        """Return the report as lines for a terminal."""
        if self.outcome.gone:
            return [f"done: {self.wish.text}; the board has left its program"]
        found = [f"done: {self.wish.text}"]
        if not self.outcome.signed:
            found.append("The board has no key: whoever reaches its USB port may order."
                         " Flash it to give it one.")
        return found


def carry_out(board: Board, wish: Wish) -> Report:
    """Order what is wished, and see on the board that it is so.

    Raises DispatchError if the board refuses, or does not show it.
    """
    outcome = send(board, wish.code, wish.a, wish.b)
    if outcome.result:
        raise DispatchError(f"the board refuses: {_refusal(outcome.result)}", outcome.result)
    if outcome.gone:
        return Report(wish, outcome)
    try:
        shown = board.values(*wish.shows)
    except NoAnswer:
        if wish.code == orders.MAINTAIN and wish.b:
            return Report(wish, outcome)
        raise
    if not wish.holds(shown):
        raise DispatchError(f"the board took the order but shows {shown}: another order came, or"
                            " something stopped it; look at it before you repeat it")
    return Report(wish, outcome, shown)


def _refusal(number):
    return REFUSALS.get(number, f"reason {number}, of a newer firmware")


def _about(register, minutes):
    """Return a test: a register [0.1 s] shows about so many minutes."""
    wanted = minutes * DS_PER_MIN
    return lambda live: wanted - PASSED_DS <= live[register] <= wanted


# Quantities as people write them

def minutes_of(text: str) -> int:
    """Return a duration such as "90 min" or "4 h" (alone: s) in whole minutes, at least 1."""
    try:
        seconds = parse(text, "time")
    except UnitError as error:
        raise DispatchError(f"duration {text!r}: {error.reason}") from None
    minutes = round(seconds / 60)
    if minutes < 1:
        raise DispatchError(f"duration {text!r} is {seconds:g} s: at least 1 min")
    return minutes


def milliwatts_of(text: str) -> int:
    """Return a power such as "0.6 W", "600 mW" or "0.6" in whole milliwatts, at least 1."""
    try:
        milliwatts = round(parse(text, "power") * 1000)
    except UnitError as error:
        raise DispatchError(f"power {text!r}: {error.reason}") from None
    if milliwatts < 1:
        raise DispatchError(f"power {text!r}: at least 1 mW")
    return milliwatts


def minutes_till(clock: str, now: datetime) -> int:
    """Return the whole minutes from `now` to the next HH:MM of the same zone, 1 to 1440.

    So where the clocks go back, a whole day of 25 h ends an hour early.
    """
    try:
        hour, minute = (int(part) for part in clock.split(":"))
        then = now.replace(hour=hour, minute=minute, second=0, microsecond=0)
    except ValueError:
        raise DispatchError(f"time {clock!r}: write HH:MM, 00:00 to 23:59") from None
    if then <= now:
        then += timedelta(days=1)
    # By UTC: two times of one zone are subtracted as its clock shows them.
    minutes = round((then.astimezone(UTC) - now.astimezone(UTC)).total_seconds() / 60)
    return min(max(1, minutes), 24 * MIN_PER_H)


# The wishes

def light(power: str, duration: str) -> Wish:
    """Hold a lamp power for so long."""
    power_mW, minutes = milliwatts_of(power), minutes_of(duration)
    held = _about("light_held_ds", minutes)
    return Wish(orders.LIGHT, power_mW, minutes,
                f"light of {power_mW / 1000:g} W for {_time(minutes)}",
                ("light_held_ds", "wanted_mW"),
                lambda live: live["wanted_mW"] == power_mW and held(live))


def brightness(step: int, duration: str) -> Wish:
    """Hold a step of the button for so long."""
    minutes = minutes_of(duration)
    return Wish(orders.BRIGHTNESS, step, minutes, f"brightness {step} for {_time(minutes)}",
                ("light_held_ds", "wanted_mW"), _about("light_held_ds", minutes))


def last(till: str | None, now: datetime) -> Wish:
    """Make the light last till dawn, or till HH:MM of the zone of `now`."""
    minutes = minutes_till(till, now) if till else 0
    text = f"the light is to last till {till}" if till else "the light is to last till dawn"
    return Wish(orders.LAST, minutes, 0, text, ("light_ends_ds", "setpoint_mW"),
                _about("light_ends_ds", minutes))


def rest(duration: str) -> Wish:
    """No light and no pump for so long."""
    minutes = minutes_of(duration)
    return Wish(orders.REST, minutes, 0, f"standstill for {_time(minutes)}",
                ("rest_ds", "pump_forbidden_ds"), _about("rest_ds", minutes))


def pump(allow: bool, duration: str | None) -> Wish:
    """Allow the pump, or forbid it for so long (a day if not said)."""
    minutes = 0 if allow else minutes_of(duration) if duration else 24 * MIN_PER_H
    text = "the pump may run" if allow else f"no pump for {_time(minutes)}"
    return Wish(orders.PUMP_ALLOWED, int(allow), minutes, text, ("pump_forbidden_ds",),
                _about("pump_forbidden_ds", minutes))


def drain_down(end: bool, duration: str | None) -> Wish:
    """Empty pump, filter and pipes for so long (a day if not said), or end it."""
    minutes = 0 if end else minutes_of(duration) if duration else 24 * MIN_PER_H
    text = "the drain-down is over" if end else f"pipes run empty for {_time(minutes)} at most"
    return Wish(orders.DRAIN_DOWN, int(not end), minutes, text, ("drain_ds",),
                _about("drain_ds", minutes))


def maintenance(end: bool, stop: bool) -> Wish:
    """Everything stands for work on the rig, or may run again; stop: end what runs."""
    wanted = 0 if end else 2 if stop else 1
    text = "the rig may run again" if end else "everything stands; still open the isolator" \
        " and shut the hand valve before you touch anything"
    return Wish(orders.MAINTAIN, wanted, 0, text, ("maintenance", "state"),
                lambda live: live["maintenance"] == int(not end))


def clock(now: datetime) -> Wish:
    """Set the board's clock to `now` (with its zone)."""
    since = now.astimezone(UTC) - EPOCH
    return Wish(orders.CLOCK, since.days, since.seconds,
                f"clock set to {now.astimezone(UTC):%Y-%m-%d %H:%M:%S} UTC",
                ("clock_known", "clock_day", "clock_ds"),
                lambda live: bool(live["clock_known"]) and live["clock_day"] == since.days)


def release() -> Wish:
    """End every hold: the rig's own rules again."""
    names = ("light_held_ds", "light_ends_ds", "rest_ds", "pump_forbidden_ds", "drain_ds")
    return Wish(orders.RELEASE, 0, 0, "all holds are ended: the rig's own rules again", names,
                lambda live: not any(live[name] for name in names))


def reset() -> Wish:
    """Reset the lockout; a person has seen the rig."""
    return Wish(orders.RESET, 1, 0, "the lockout is reset", ("lockouts", "lockout_element"),
                lambda live: not live["lockouts"])


def _time(minutes):
    hours, rest_min = divmod(minutes, MIN_PER_H)
    parts = [f"{hours} h"] * bool(hours) + [f"{rest_min} min"] * bool(rest_min)
    return " ".join(parts)


# A lockout, as a person must see it before resetting it

LOCKOUT = ("lockouts", "lockout_element", "first_out", "cause_present", "reset_at_rig")


def lockout_of(board: Board) -> tuple[Live, list[str]]:
    """Return the registers of the lockout and what they say, in lines.

    Raises DispatchError if nothing is locked out, if the cause is still
    there, or if only the rig's button may reset it.
    """
    live = board.live()
    lines = _lockout_lines(live)
    if not live["lockouts"]:
        raise DispatchError("nothing is locked out")
    said = " ".join(lines)
    if live["reset_at_rig"]:
        raise DispatchError(f"{said} This one is reset only at the rig: let go, press for 1 to"
                            " 10 s and let go of its button.", orders.ONLY_AT_RIG)
    if live["cause_present"]:
        raise DispatchError(f"{said} Its cause is still present: mend it first.",
                            orders.CAUSE_PRESENT)
    return {name: live[name] for name in LOCKOUT}, lines


def _lockout_lines(live):
    lines = [f"locked out by {_element(live['lockout_element'])}"]
    if live["first_out"]:
        lines.append(f"first of all acted {_element(live['first_out'])}")
        lines.append(_first_values(live))
    return lines


def _element(number):
    if number not in ELEMENTS:
        return "a cause that is not known: the board's memory of it is lost."
    said = ELEMENTS[number]
    return f"{said.id}: {said.plain}. {said.look}"


def _first_values(live):
    shown = (("panel", "first_panel_mV"), ("pump", "first_pump_mA"),
             ("generator", "first_generator_mV"), ("level", "first_level_mm"),
             ("motor", "first_motor_mdegC"))
    parts = [f"{name} {value:.4g} {unit_of(register).text}" for name, register in shown
             if (value := maybe_si(live, register)) is not None]
    return "at that moment: " + ", ".join(parts)
