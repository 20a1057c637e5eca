"""What a board says, as lines of text: decisions about words and places, no terminal.

Owns the layout. Every line is at most `width` columns; nothing needs colour.
"""

import time
from datetime import date
from itertools import zip_longest

from forebay.si import is_trusted, maybe_power_W, reason_of
from forebay.watch import due, lacking
from forebay.watch.follow import Snapshot, tells_why
from forebay.watch.words import clock, reading, span, sparkline, watts
from forebay.words import Named
from forebay.words.link import RESET_REASONS
from forebay.words.measured import CHANNELS, CONTACTS
from forebay.words.operation import SAFE_REASONS, STATES
from forebay.words.protection import ELEMENTS
from keeper.boards.retry import ENDING, safe_wait_ds

WIDTH_LEAST = 40
SPARK_COLUMNS = 48
EVENT_LINES = 6
ERROR_LINES = 6   # of a traceback: where it was raised, and what
DS_PER_S = 10
PERMILLE = 1000
SIDES = ("pump", "turbine")


def view(snapshot: Snapshot, *, width: int = 80, rows: int | None = None, fine: bool = True,
         today: date | None = None, proof_test: str | None = None) -> list[str]:
    """Return the whole view of a board.

    width: columns [-], at least WIDTH_LEAST.  rows: of the terminal [-], None =
    as many as it takes; where they are few, blank lines go first, then the older
    events.  fine: the terminal shows block characters.  proof_test: day of the
    last one [YYYY-MM-DD], None unknown.
    """
    width = max(width, WIDTH_LEAST)
    if not snapshot.live:
        return _fold([f"forebay watch  {snapshot.port}", "", *_lost(snapshot)], width)
    due_test = due.proof_test(proof_test, today or date.today())
    lines: list[str] = []
    # The names of what is absent go before the newest event does.
    for whole, events in [*[(True, count) for count in range(EVENT_LINES, 0, -1)],
                          (False, 1), (False, 0)]:
        lines = _fold(_page(snapshot, width, fine, due_test, events, whole), width)
        if rows is not None and len(lines) > rows:
            lines = [line for line in lines if line]
        if rows is None or len(lines) <= rows:
            break
    return lines


def _page(snapshot, width, fine, due_test, events, whole):
    """Return the lines of the view, with so many of the newest events.

    whole: with the names of all that is absent.
    """
    live = snapshot.live
    return [
        _head(snapshot, width),
        *_lost(snapshot),
        "",
        *_state(live),
        *_error(snapshot, fine),
        "",
        *_values(live),
        *_sparklines(snapshot, width, fine),
        "",
        *_acting(live),
        *lacking.lines(live, whole),
        *_recent(snapshot, events),
        "",
        due.journal(live, snapshot.known.holding, snapshot.at_s),
        due.times(live, snapshot.known.anchor, snapshot.known.zone),
        due_test,
        *_health(live),
    ]


def plain_line(snapshot: Snapshot) -> str:
    """Return one line of text for a file or a pipe."""
    live = snapshot.live
    if snapshot.lost or not live:
        return f"{clock(time.time(), snapshot.known.zone)} no answer: {snapshot.lost}"
    parts = [
        clock(snapshot.at_s, snapshot.known.zone), _state_of(live).name,
    ]
    panel = [_said(live, name) for name in ("panel_mV", "panel_mA")]
    lamps, level = _power(live, "generator_mV", "lamp_mA"), _said(live, "level_mm")
    parts += [f"{name} {text}" for name, text in (
        ("panel", " ".join(filter(None, panel))), ("lamps", lamps), ("level", level)) if text]
    acting = [said.id for said in _elements(live["acting"])]
    if acting:
        parts.append("acting " + " ".join(acting))
    if live["lockouts"]:
        parts.append("LOCKED OUT")
    if live["journal_state"]:
        parts.append("NO JOURNAL")
    return "  ".join(parts)


def changes(before: dict[str, int], live: dict[str, int]) -> list[str]:
    """Return what changed between two readings, as sentences."""
    found = []
    if before and (live["boot"] != before["boot"] or live["uptime_ds"] < before["uptime_ds"]):
        found.append(f"The board started anew (start {live['boot']}): {_reset_reason(live)}.")
        return found
    if before and live["state"] != before["state"]:
        found.append(f"State: {', '.join(_state_of(live))}.")
    new = live["acting"] & ~(before or {"acting": 0})["acting"]
    found += [f"{said.named}. {said.look}" for said in _elements(new)]
    return found


# The parts of the view, from top to bottom

def _head(snapshot, width):
    live = snapshot.live
    left = (f"forebay watch  {snapshot.port}  rig {live['rig_id']}  start {live['boot']}, up"
            f" {span(live['uptime_ds'] / DS_PER_S)}")
    return left + clock(snapshot.at_s, snapshot.known.zone).rjust(max(10, width - len(left)))


def _lost(snapshot):
    if not snapshot.lost:
        return []
    since = f" since {clock(snapshot.at_s, snapshot.known.zone)}" if snapshot.at_s else ""
    return [f"NO ANSWER{since}; what follows is old. Trying again.", snapshot.lost]


def _state_of(live):
    number = live["state"]
    return STATES.get(number, Named(f"state {number}", "of a newer firmware"))


def _state(live):
    state = _state_of(live)
    lines = [f"{state.name.upper()}: {state.plain}"]
    if live["safe_reason"]:
        why = SAFE_REASONS.get(live["safe_reason"], "")
        lines.append(f"SAFE MODE, everything off, nothing will start: {why}{_retry(live)}")
    if live["lockouts"]:
        lines.append(f"LOCKED OUT: {_sides(live['lockouts'])}; find the cause, then reset"
                     f" ({_element(live['lockout_element'])})")
    held = live["held"] & ~live["lockouts"]
    if held:
        lines.append(f"held off: {_sides(held)}")
    inhibited = live["inhibited"] & ~live["held"]
    if inhibited:
        lines.append(f"no new start: {_sides(inhibited)}")
    if live["first_out"]:
        lines.append(f"first to act in this run: {_element(live['first_out'])}")
    return lines


def _retry(live):
    """Return when a safe mode ends by itself, as the end of a sentence."""
    if live["safe_reason"] not in ENDING:
        return ""
    left_s = max(0, safe_wait_ds(live["restarts"]) - live["uptime_ds"]) / DS_PER_S
    return f"; it starts anew by itself in {span(left_s)}"


def _reset_reason(live):
    return RESET_REASONS.get(live["reset_reason"], f"reason {live['reset_reason']}")


def _error(snapshot, fine):
    """Return the end of the last error's text, if it is why the board started or stands."""
    live = snapshot.live
    if not snapshot.error or not tells_why(live):
        return []
    lines = snapshot.error.splitlines()[-ERROR_LINES:]
    shown = [_printable(line, fine) for line in lines]
    return [f"ERROR: {_reset_reason(live)}; the end of /last_error on the board:", *shown]


def _printable(line, fine):
    found = line.expandtabs(2) if fine else line.expandtabs(2).encode("ascii", "replace").decode()
    return "  " + "".join(letter if letter.isprintable() else "?" for letter in found)


def _values(live):
    open_loops = [said.tag for place, (name, said) in enumerate(CONTACTS.items())
                  if lacking.is_there(live, name) and not live["contacts"] >> place & 1]

    def three(volts, amps):
        return _said(live, volts), _said(live, amps), _power(live, volts, amps)

    pump = "on" if live["out_pump_switch"] else "off"
    band = f"+-{live['light_band_permille'] / PERMILLE:.1%}"
    left = [
        ("panel", *three("panel_mV", "panel_mA")),
        ("pump", pump, *three("panel_mV", "pump_mA")[1:]),
        ("generator", *three("generator_mV", "generator_mA")),
        ("lamps", "", *three("generator_mV", "lamp_mA")[1:]),
        ("supply", *three("supply_mV", "supply_mA")),
        ("wanted", "", band, reading(live, "setpoint_mW")),
    ]
    right = [(name, _said(live, register)) for name, register in (
        ("level", "level_mm"), ("flow up", "flow_up_uL_s"), ("flow down", "flow_down_uL_s"),
        ("valve", "valve_permille"), ("motor", "motor_mdegC"), ("water", "water_mdegC"))]
    # What nothing reads has no place: neither a dash nor a zero.
    pairs = zip_longest([row for row in left if any(row[1:])],
                        [row for row in right if row[1]])
    return [*[_row(*(one or ("",) * 4), *(other or ("", ""))) for one, other in pairs],
            f"contacts open: {', '.join(open_loops) or 'none'}", *_distrusted(live)]


def _said(live, name):
    """Return a reading as a person reads it, "" where nothing reads it."""
    return reading(live, name) if lacking.is_there(live, name) else ""


def _power(live, volts, amps):
    """Return the power of two readings as a person reads it, "" where one is absent."""
    if not (lacking.is_there(live, volts) and lacking.is_there(live, amps)):
        return ""
    return watts(maybe_power_W(live, volts, amps))


def _row(name, first, second, third, other, value):
    return f"{name:<10}{first:>11}{second:>12}{third:>11}   {other:<10}{value:>14}"


def _distrusted(live):
    bad = [f"{said.plain}: {reason_of(live[name])}" for name, said in CHANNELS.items()
           if name in live and lacking.is_there(live, name) and not is_trusted(live[name])]
    return ["not to be trusted: " + "; ".join(bad)] if bad else []


def _sparklines(snapshot, width, fine):
    columns = min(SPARK_COLUMNS, width - 32)
    series = (("pump W", snapshot.pump_W, ("panel_mV", "pump_mA")),
              ("lamps W", snapshot.lamp_W, ("generator_mV", "lamp_mA")),
              ("level m", snapshot.level_m, ("level_mm",)))
    return [f"{name:<8} {sparkline(values, columns, fine)}" for name, values, reads in series
            if all(lacking.is_there(snapshot.live, one) for one in reads)]


def _acting(live):
    lines = []
    for said in _elements(live["acting"]):
        lines += [f"ACTS: {said.named}", f"      {said.look}"]
    return lines or ["nothing acts"]


def _recent(snapshot, count):
    if not snapshot.events or not count:
        return []
    lines = ["", "last events:"]
    for boot, uptime_ds, text in snapshot.events[-count:]:
        if boot == snapshot.live["boot"]:
            ago = (snapshot.live["uptime_ds"] - uptime_ds) / DS_PER_S
            when = f"{span(max(0.0, ago))} ago"
        else:
            when = f"start {boot}"
        lines.append(f"{when:>15}  {text}")
    return lines


def _health(live):
    late = f"late {live['late_ms']} ms, flash stall {live['stall_ms']} ms"
    return [
        f"board: scan {live['scan_us'] / 1000:.1f} ms, {live['scan_longest_us'] / 1000:.1f} at"
        f" most; {late}, collection {live['collect_ms']} ms at most;"
        f" {live['heap_free_B'] / 1000:.1f} kB free"
        # No board runs with no byte free: a simulated one has no memory of its own.
        if live["heap_free_B"]
        else f"board: {late} at most; scan and memory are not measured there",
        f"started: {_reset_reason(live)}; first scan after {live['first_scan_ms'] / 1000:.1f} s,"
        f" {live['restarts']} quick restarts, {live['bus_errors']} readings lost",
    ]


def _elements(bits):
    return [said for number, said in ELEMENTS.items() if bits >> number - 1 & 1]


def _element(number):
    return ELEMENTS[number].named if number in ELEMENTS else "cause not known"


def _sides(bits):
    return " and ".join(side for place, side in enumerate(SIDES) if bits >> place & 1)


def _fold(lines, width):
    """Return lines of at most `width` columns; what is longer goes on, indented."""
    found = []
    for line in lines:
        indent = " " * min(6, width // 4)
        while len(line) > width:
            cut = line.rfind(" ", len(indent) + 1, width + 1)
            cut = width if cut < 0 else cut
            found.append(line[:cut].rstrip())
            line = indent + line[cut:].lstrip()
        found.append(line.rstrip())
    return found
