"""Rigs side by side: a page and lines for a terminal, from the table of rigs and days."""

import textwrap
from html import escape
from typing import Any, NamedTuple

import numpy as np

from forebay.many.balancing import OTHERS
from forebay.paper import CAUTION, document, section

J_PER_WH = 3600.0
MOST_LINES = 40          # of rigs in a terminal; the page and the table have all
SURE_U = 3.0             # beyond so many standard uncertainties nothing is chance
WHOLE_FRAC = 0.9         # of a local day: then it counts as a day
WHOLE_DAY_S = WHOLE_FRAC * 86400.0
MOST_NAMED = 4           # of rigs, in a line for a person
MARK, WIDTH = "*", 80


class Compared(NamedTuple):
    """A figure that rigs are compared by: of whole days only where `a_day`."""

    label: str
    unit: str
    column: str
    scale: float
    over: str = ""       # sum of this column, for a ratio of sums


COMPARED = (
    Compared("pumped up a day", "L", "up_L", 1.0),
    Compared("light a day", "h", "light_h", 1.0),
    Compared("lamps a day", "Wh", "lamps_J", 1 / J_PER_WH),
    Compared("lifted a watt hour", "L/Wh", "up_L", J_PER_WH, "pump_J"),
    Compared("light from a litre", "J/L", "lamps_J", 1.0, "down_L"),
    Compared("lost at rest a day", "L", "rest_change_L", -1.0),
    Compared("board's load", "W", "board_load_J", 1.0, "covered_s"),
)


class RigLine(NamedTuple):
    """One rig: its days, of which whole ones; values in the order of COMPARED, NaN = not known.

    odd: days whose water does not close within SURE_U; trips; faults: days that could not be
    balanced; mixed: days in which another description was flashed.
    """

    rig_id: int
    name: str
    days: int
    whole: int
    values: list[float]
    odd: int
    trips: int
    faults: int
    mixed: int


def lines_of(table: Any) -> list[RigLine]:
    """Return one line a rig of the table of rigs and days (`forebay.many.written.frame`)."""
    return [_line(int(rig_id), days) for rig_id, days in table.groupby("rig_id", sort=True)]


def _line(rig_id, days):
    sound = days[days["fault"].isna()]
    whole = sound[sound["covered_s"].astype(float) >= WHOLE_DAY_S]
    values = [_value(one, whole if not one.over else sound) for one in COMPARED]
    off = np.abs(sound["fill_residual_L"].astype(float) / sound["fill_residual_L_u"].astype(float))
    return RigLine(rig_id, str(days["rig"].iloc[0]), len(days), len(whole), values,
                   int((off > SURE_U).sum()), int(sound["trips"].astype(float).sum()),
                   len(days) - len(sound), int(days[OTHERS].notna().sum()))


def _value(one, days):
    above = days[one.column].astype(float)
    if not one.over:
        known = above.dropna()
        return one.scale * float(known.mean()) if len(known) else float("nan")
    both = days[[one.column, one.over]].astype(float).dropna()
    below = float(both[one.over].sum())
    return one.scale * float(both[one.column].sum()) / below if below > 0.0 else float("nan")


def text(rigs: list[RigLine]) -> list[str]:
    """Return lines of at most 80 columns."""
    said = [_counted(rigs),
            f"  {'rig':20}{'days':>5}{'L/d':>7}{'h/d':>6}{'Wh/d':>7}{'L/Wh':>7}{'J/L':>6}"
            f"{'lost':>6}{'odd':>5}{'trips':>6}"]
    for one in rigs[:MOST_LINES]:
        v = one.values
        said.append(f"  {one.name[:19]:20}{one.days:5}{_n(v[0], 7)}{_n(v[1], 6)}{_n(v[2], 7)}"
                    f"{_n(v[3], 7)}{_n(v[4], 6)}{_n(v[5], 6)}{one.odd:5}{one.trips:6}"
                    f"{MARK if one.mixed else ''}")
    if len(rigs) > MOST_LINES:
        said.append(f"  ... and {len(rigs) - MOST_LINES} more: see the page or the table.")
    faults = sum(one.faults for one in rigs)
    if faults:
        said.append(f"  {faults} day{'' if faults == 1 else 's'} could not be balanced: see the"
                    " column fault of the table (--table).")
    said += ["  lost: L a day at rest; odd: days whose filling does not close within"
             f" {SURE_U:g} u."]
    for one in [*_mixed(rigs), *_partly(rigs)]:
        said += textwrap.wrap(one, WIDTH, initial_indent="  ", subsequent_indent="  ",
                              break_on_hyphens=False)
    return said


def _counted(rigs):
    """Return how many rigs and days there are, in words."""
    days = sum(one.days for one in rigs)
    return (f"{len(rigs)} rig{'' if len(rigs) == 1 else 's'},"
            f" {days} day{'' if days == 1 else 's'}")


def _partly(rigs):
    """Return in a sentence which rigs have no figure a day because no day of them is whole."""
    names = [one.name for one in rigs if not one.whole and one.days > one.faults]
    if not names:
        return []
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return [f"What is a day's (L/d, h/d, Wh/d, lost) is a mean of local days, midnight to"
            f" midnight, of which at least {WHOLE_FRAC:.0%} are recorded; there is none such of"
            f" {', '.join(names[:MOST_NAMED])}{more}."]


def _mixed(rigs):
    """Return in a sentence in how many days another description was flashed."""
    count = sum(one.mixed for one in rigs)
    if not count:
        return []
    return [f"{MARK} another description was flashed in {count} day{'' if count == 1 else 's'}:"
            " each is read by the one that stood for most of it, and marked in the table's column"
            f" {OTHERS} (--table)."]


def _n(value, width):
    return f"{'-' if not np.isfinite(value) else format(value, '.3g'):>{width}}"


def page(rigs: list[RigLine]) -> str:
    """Return the page that puts rigs side by side."""
    head = (f"<header><h1>Rigs side by side</h1><p class='lead'>{_counted(rigs)} in all.</p>"
            "</header>")
    said = "".join(f"<p>{escape(one)}</p>" for one in [*_mixed(rigs), *_partly(rigs)])
    parts = [head, section("One line a rig", _table(rigs) + said)]
    parts += [section(f"{one.label} [{one.unit}]", _bars(rigs, place))
              for place, one in enumerate(COMPARED)]
    parts += [section("How it was made", "<p class='soft'>Means over days of which nine tenths"
                      " and more are covered; ratios are of sums over all days. Each rig and day"
                      " is balanced by itself, from that local day's own rows, events and totals;"
                      " the minutes about midnight are summed from rows. Odd: days whose filling"
                      f" does not close within {SURE_U:g} standard uncertainties.</p>"),
              section("Caution", f'<p class="caution">{escape(CAUTION)}</p>')]
    return document("Rigs side by side", "\n".join(parts))


def _table(rigs):
    head = "".join(f'<th class="n">{escape(one.label)} [{one.unit}]</th>' for one in COMPARED)
    rows = [f'<tr><th>rig</th><th class="n">days</th>{head}<th class="n">odd</th>'
            '<th class="n">trips</th><th class="n">not balanced</th></tr>']
    for one in rigs:
        cells = "".join(f'<td class="n">{_n(value, 0)}</td>' for value in one.values)
        mark = ' class="n grave"' if one.odd > max(1, one.days // 50) else ' class="n"'
        rows.append(f'<tr><td>{escape(one.name)} ({one.rig_id})</td>'
                    f'<td class="n">{one.days}{MARK if one.mixed else ""}</td>'
                    f"{cells}<td{mark}>{one.odd}</td>"
                    f'<td class="n">{one.trips}</td><td class="n">{one.faults}</td></tr>')
    return f'<div class="scroll"><table>{"".join(rows)}</table></div>'


ROW_PX, LEFT_PX, WIDTH_PX = 18, 190, 640


def _bars(rigs, place):
    """Return a bar a rig, the longest first, with its value beside."""
    known = sorted((one for one in rigs if np.isfinite(one.values[place])),
                   key=lambda one: -one.values[place])
    if not known:
        return "<p>Not known of any rig.</p>"
    most = max(abs(one.values[place]) for one in known) or 1.0
    room = WIDTH_PX - LEFT_PX - 60
    drawn = []
    for row, one in enumerate(known):
        value, y = one.values[place], row * ROW_PX
        drawn.append(f'<text class="end" x="{LEFT_PX - 6}" y="{y + 13}">{escape(one.name[:28])}'
                     f'</text><rect class="level" x="{LEFT_PX}" y="{y + 4}" height="10"'
                     f' width="{max(0.0, value) / most * room:.1f}"/>'
                     f'<text x="{LEFT_PX + max(0.0, value) / most * room + 5:.1f}" y="{y + 13}">'
                     f"{value:.3g}</text>")
    return (f'<svg viewBox="0 0 {WIDTH_PX} {ROW_PX * len(known)}" role="img"'
            f' aria-label="{escape(COMPARED[place].label)}">{"".join(drawn)}</svg>')
