"""What a board says, as lines of text: decisions about words and places, no terminal.

Owns the layout. Every line is at most `width` columns; nothing needs colour.
"""

import math
import time
from collections.abc import Iterable, Sequence
from datetime import date

from forebay.watch import due
from forebay.watch.follow import Snapshot, product
from keeper import elements, modes
from keeper.channels import CH_TEXT, CHANNELS, CONTACTS, INVALID, REASONS
from keeper.elements import E_ID, E_LOOK, E_NAME, ELEMENTS
from keeper.keeper import SAFE_REASONS

WIDTH_LEAST = 40
FINE, COARSE = "▁▂▃▄▅▆▇█", "_.-=+*#@"
UNKNOWN_MARK = " "
SPARK_COLUMNS = 48
EVENT_LINES = 6
DS_PER_S = 10
S_PER_MIN, S_PER_H, S_PER_DAY = 60, 3600, 86400
UL_S_TO_L_MIN = 60e-6
SIDES = ("pump", "turbine")


def view(snapshot: Snapshot, *, width: int = 80, fine: bool = True, today: date | None = None,
         proof_test: str | None = None) -> list[str]:
    """Return the whole view of a board.

    width: columns [-], at least WIDTH_LEAST.  fine: the terminal shows block
    characters.  proof_test: day of the last one [YYYY-MM-DD], None unknown.
    """
    width = max(width, WIDTH_LEAST)
    live = snapshot.live
    if not live:
        return _fold([f"forebay watch  {snapshot.port}", "", *_lost(snapshot)], width)
    lines = [
        _head(snapshot, width),
        *_lost(snapshot),
        "",
        *_state(live),
        "",
        *_values(live),
        "",
        *_sparklines(snapshot, width, fine),
        "",
        *_acting(live),
        *_recent(snapshot),
        "",
        due.journal(live),
        due.proof_test(proof_test, today or date.today()),
        _health(live),
    ]
    return _fold(lines, width)


def plain_line(snapshot: Snapshot) -> str:
    """Return one line of text for a file or a pipe."""
    live = snapshot.live
    if snapshot.lost or not live:
        return f"{_clock(time.time())} no answer: {snapshot.lost}"
    parts = [
        _clock(snapshot.at_s), _state_name(live),
        f"panel {_volts(live['panel_mV'])} {_amperes(live['panel_mA'])}",
        f"lamps {_watts(product(live['generator_mV'], live['lamp_mA']))}",
        f"level {_metres(live['level_mm'])}",
    ]
    acting = [row[E_ID] for row in _acting_rows(live)]
    if acting:
        parts.append("acting " + " ".join(acting))
    if live["lockouts"]:
        parts.append("LOCKED OUT")
    return "  ".join(parts)


def happened(before: dict[str, int], live: dict[str, int]) -> list[str]:
    """Return what changed between two readings, as sentences."""
    found = []
    if before and live["boot"] != before["boot"]:
        found.append(f"The board started anew (start {live['boot']}).")
        return found
    if before and live["state"] != before["state"]:
        found.append(f"State: {_state_name(live)}, {_state_words(live)}.")
    new = live["acting"] & ~(before or {"acting": 0})["acting"]
    found += [f"{row[E_NAME]} ({row[E_ID]}). {row[E_LOOK]}" for row in _rows_of(new)]
    return found


# The parts of the view, from top to bottom

def _head(snapshot, width):
    live = snapshot.live
    left = (f"forebay watch  {snapshot.port}  rig {live['rig_id']}  start {live['boot']}, up"
            f" {_span(live['uptime_ds'] / DS_PER_S)}")
    return left + _clock(snapshot.at_s).rjust(max(10, width - len(left)))


def _lost(snapshot):
    if not snapshot.lost:
        return []
    since = f" since {_clock(snapshot.at_s)}" if snapshot.at_s else ""
    return [f"NO ANSWER{since}; what follows is old. Trying again.", snapshot.lost]


def _state_name(live):
    known = live["state"] < len(modes.STATES)
    return modes.STATES[live["state"]][0] if known else f"state {live['state']}"


def _state_words(live):
    known = live["state"] < len(modes.STATES)
    return str(modes.STATES[live["state"]][-1]) if known else "of a newer firmware"


def _state(live):
    lines = [f"{_state_name(live).upper()}: {_state_words(live)}"]
    if live["safe_reason"]:
        why = SAFE_REASONS[live["safe_reason"]] if live["safe_reason"] < len(SAFE_REASONS) else ""
        lines.append(f"SAFE MODE, everything off, nothing will start: {why}")
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


def _values(live):
    open_loops = [row[1] for place, row in enumerate(CONTACTS)
                  if not live["contacts"] >> place & 1]
    pump_W = product(live["panel_mV"], live["pump_mA"])
    lamp_W = product(live["generator_mV"], live["lamp_mA"])
    lines = [
        _row("panel", _volts(live["panel_mV"]), _amperes(live["panel_mA"]), _watts(product(
            live["panel_mV"], live["panel_mA"])), "level", _metres(live["level_mm"])),
        _row("pump", "on" if live["out_pump_switch"] else "off", _amperes(live["pump_mA"]),
             _watts(pump_W), "flow up", _flow(live["flow_up_uL_s"])),
        _row("generator", _volts(live["generator_mV"]), _amperes(live["generator_mA"]), _watts(
            product(live["generator_mV"], live["generator_mA"])), "flow down",
             _flow(live["flow_down_uL_s"])),
        _row("lamps", "", _amperes(live["lamp_mA"]), _watts(lamp_W), "valve",
             _per_cent(live["valve_permille"])),
        _row("supply", _volts(live["supply_mV"]), _amperes(live["supply_mA"]), _watts(product(
            live["supply_mV"], live["supply_mA"])), "motor", _degrees(live["motor_mdegC"])),
        _row("wanted", "", "", f"{live['setpoint_mW'] / 1000:.2f} W", "water",
             _degrees(live["water_mdegC"])),
        f"contacts open: {', '.join(open_loops) or 'none'}",
    ]
    return lines + _distrusted(live)


def _row(name, first, second, third, other, value):
    return f"{name:<10}{first:>11}{second:>12}{third:>11}   {other:<10}{value:>14}"


def _distrusted(live):
    bad = [f"{row[CH_TEXT]}: {_reason(live[row[0]])}" for row in CHANNELS
           if row[0] in live and live[row[0]] < INVALID // 2]
    return ["not to be trusted: " + "; ".join(bad)] if bad else []


def _sparklines(snapshot, width, fine):
    columns = min(SPARK_COLUMNS, width - 32)
    series = (("pump W", snapshot.pump_W), ("lamps W", snapshot.lamp_W),
              ("level m", snapshot.level_m))
    return [f"{name:<8} {sparkline(values, columns, fine)}" for name, values in series]


def sparkline(values: Iterable[float | None], columns: int, fine: bool = True) -> str:
    """Return a curve in one line and its range: each column the mean of its share of the values.

    values: oldest first, None = unknown, shown as a gap.  columns: most
    columns of the curve [-].
    """
    marks = FINE if fine else COARSE
    means = _means(list(values), columns)
    known = [value for value in means if value is not None]
    if not known:
        return UNKNOWN_MARK * columns + " nothing known yet"
    low, high = min(known), max(known)
    span = high - low
    text = "".join(
        UNKNOWN_MARK if value is None
        else marks[min(len(marks) - 1, int(len(marks) * (value - low) / span)) if span else 0]
        for value in means)
    return f"{text.ljust(columns)} {low:.3g} to {high:.3g}"


def _means(values: Sequence[float | None], columns: int) -> list[float | None]:
    per_column = max(1, math.ceil(len(values) / columns))
    found: list[float | None] = []
    for at in range(0, len(values), per_column):
        known = [value for value in values[at:at + per_column] if value is not None]
        found.append(sum(known) / len(known) if known else None)
    return found


def _acting(live):
    rows = _acting_rows(live)
    if not rows:
        return ["nothing acts"]
    lines = []
    for row in rows:
        lines.append(f"ACTS: {row[E_NAME]} ({row[E_ID]})")
        lines.append(f"      {row[E_LOOK]}")
    return lines


def _recent(snapshot):
    if not snapshot.events:
        return []
    lines = ["", "last events:"]
    for boot, uptime_ds, text in snapshot.events[-EVENT_LINES:]:
        if boot == snapshot.live["boot"]:
            ago = (snapshot.live["uptime_ds"] - uptime_ds) / DS_PER_S
            when = f"{_span(max(0.0, ago))} ago"
        else:
            when = f"start {boot}"
        lines.append(f"{when:>15}  {text}")
    return lines


def _health(live):
    return (f"board: late {live['late_ms']} ms at most, flash stall {live['stall_ms']} ms,"
            f" {live['bus_errors']} readings lost, {live['restarts']} restarts")


# Words for numbers

def _acting_rows(live):
    return _rows_of(live["acting"])


def _rows_of(bits):
    return [row for place, row in enumerate(ELEMENTS) if bits >> place & 1]


def _element(number):
    if 1 <= number <= len(elements.ELEMENTS):
        row = ELEMENTS[number - 1]
        return f"{row[E_NAME]} ({row[E_ID]})"
    return "cause not known"


def _sides(bits):
    return " and ".join(side for place, side in enumerate(SIDES) if bits >> place & 1)


def _reason(value):
    number = value - INVALID
    return REASONS[number] if 0 <= number < len(REASONS) else "unknown"


def _number(value, factor, form):
    return "-" if value < INVALID // 2 else form.format(value * factor)


def _volts(value):
    return _number(value, 1e-3, "{:.2f} V")


def _amperes(value):
    return _number(value, 1e-3, "{:.3f} A")


def _metres(value):
    return _number(value, 1e-3, "{:.3f} m")


def _degrees(value):
    return _number(value, 1e-3, "{:.1f} degC")


def _per_cent(value):
    return _number(value, 0.1, "{:.1f} %")


def _flow(value):
    return _number(value, UL_S_TO_L_MIN, "{:.2f} L/min")


def _watts(value):
    return "-" if value is None else f"{value:.2f} W"


def _clock(at_s):
    return time.strftime("%H:%M:%S", time.localtime(at_s))


def _span(seconds):
    if seconds < S_PER_MIN:
        return f"{seconds:.0f} s"
    if seconds < S_PER_H:
        return f"{seconds / S_PER_MIN:.0f} min"
    if seconds < S_PER_DAY:
        return f"{seconds / S_PER_H:.1f} h"
    return f"{seconds / S_PER_DAY:.1f} days"


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


