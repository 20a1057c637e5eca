"""Journals as a meter that is off would have written them, and whether it is named.

The board's own deeds are left as they are: what it would have done otherwise by a wrong
reading is no matter of the meters' agreement.

A bias counts as identifiable, before anything is judged, where the stated uncertainties
alone put it so far from all meters being as stated, and from any other one being off, that
the test's own bars are passed in 90 %: 3 + 1.28 of the combined uncertainty from the first
(the bar is 3); x from each of the second with x2 - 2 x 1.28 = 2 ln 20, the bar of 20 to 1.
"""

import math
import random
import sys
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np

from forebay.balance import blame
from forebay.balance.instruments import tag
from forebay.shelf.rows import total_values
from keeper import channels as ch
from keeper.journal.rows import NOT_TRUSTED
from tests.bench.coverage.judged_whole import played_days

NINETY = 1.2816          # of a normal distribution, one side
LEAST_SIGMA = blame.SURE_U + NINETY
LEAST_APART = NINETY + math.sqrt(NINETY**2 + blame.LEAD)
LEAST_NAMED_FRAC = LEAST_GROUPED_FRAC = 0.9
LEAST_U, MOST_U = 3.0, 15.0
TOTALS_OF = {
    ch.PANEL_MV: (ch.T_PANEL, ch.T_PUMP), ch.PANEL_MA: (ch.T_PANEL,), ch.PUMP_MA: (ch.T_PUMP,),
    ch.GENERATOR_MV: (ch.T_GENERATOR, ch.T_LAMP), ch.GENERATOR_MA: (ch.T_GENERATOR,),
    ch.LAMP_MA: (ch.T_LAMP,), ch.SUPPLY_MV: (ch.T_SUPPLY_IN, ch.T_SUPPLY_OUT),
    ch.SUPPLY_MA: (ch.T_SUPPLY_IN, ch.T_SUPPLY_OUT), ch.FLOW_UP: (ch.T_UP,),
    ch.FLOW_DOWN: (ch.T_DOWN,),
}
ENDS = {"floor": np.cos, "rim": np.sin}


class Tried(NamedTuple):
    """A bias that was tried: of which meter, how large [u], whether identifiable, the finding."""

    tag: str
    size_u: float
    is_identifiable: bool
    found: blame.Blame


def scaled(journal, channel, factor):
    """Returns a journal whose meter of a channel read so many times as much."""
    rows = replace(journal.rows, stored=journal.rows.stored.copy())
    mine = rows.stored[channel]
    trusted = mine != NOT_TRUSTED
    mine[trusted] = np.round(mine[trusted] * factor)
    tables = {}
    for name in ("events", "totals", "summaries"):
        table = getattr(journal, name).copy()
        whole = total_values(table["totals"])
        for total in TOTALS_OF[channel]:
            whole[:, total] = np.round(whole[:, total] * factor)
        table["totals"] = np.stack([whole % ch.LIMB, whole // ch.LIMB], -1)
        tables[name] = table
    return replace(journal, rows=rows, **tables)


def bent(journal, end, off_m, height_m):
    """Returns a journal whose level reads off at one end of the tank, as a smooth curve."""
    rows = replace(journal.rows, stored=journal.rows.stored.copy())
    mine = rows.stored[ch.LEVEL_MM]
    trusted = mine != NOT_TRUSTED
    angle = 0.5 * np.pi * np.clip(mine[trusted] * 1e-3 / height_m, 0.0, 1.0)
    mine[trusted] = np.round(mine[trusted] + 1e3 * off_m * ENDS[end](angle))
    return replace(journal, rows=rows)


def off_by(day, source, size_u):
    """Returns the journal of a day with a meter's error [source] off by so many u."""
    name, u = blame.sources_of(day.rig.sensors)[source]
    if source in (blame.FLOOR, blame.RIM):
        return bent(day.journal, source.split()[1], size_u * u, day.rig.upper.height_m)
    channel = next(one for one in TOTALS_OF if tag(one) == name)
    return scaled(day.journal, channel, 1.0 + size_u * u)


def is_identifiable(closures, sensors, source, size_u):
    """Returns whether the stated uncertainties alone set a bias apart, by the module's bars."""
    known = blame.sources_of(sensors)
    moved = blame._moved(closures, known)
    if source not in moved:
        return False
    _, spread, columns = blame._matrices(closures, moved)
    weight = np.linalg.inv(spread)
    mine = columns[moved.index(source)]
    length = math.sqrt(mine @ weight @ mine)
    if abs(size_u) * length < LEAST_SIGMA:
        return False
    for other, column in zip(moved, columns, strict=True):
        if known[other][0] == known[source][0]:
            continue
        norm = math.sqrt(column @ weight @ column)
        along = float(mine @ weight @ column) / length / norm if norm else 0.0
        if abs(size_u) * length * math.sqrt(max(0.0, 1.0 - along**2)) < LEAST_APART:
            return False
    return True


def tried(day, seed):
    """Returns a bias of a day, by a seed."""
    draw = random.Random(f"bias {seed}")
    source = draw.choice(list(blame.sources_of(day.rig.sensors)))
    size_u = draw.choice((-1, 1)) * LEAST_U * (MOST_U / LEAST_U) ** draw.random()
    sound = day.balance().blame.closures
    can = is_identifiable(sound, day.rig.sensors, source, size_u)
    return Tried(blame.sources_of(day.rig.sensors)[source][0], size_u, can,
                 day.balance(off_by(day, source, size_u)).blame)


def main(out, most=None, first="1"):
    """Prints how often a bias was named, grouped rightly, or wrongly; 1 if below the bars."""
    found = [tried(day, day.seed)
             for day in played_days(Path(out), int(first), int(most) if most else None)]
    can = [one for one in found if one.is_identifiable]
    named = [one for one in can if one.found.kind == blame.NAMED
             and one.found.suspects[0].tag == one.tag]
    rest = [one for one in found if not one.is_identifiable and one.found.kind != blame.NONE]
    right = [one for one in rest if one.tag in [who.tag for who in one.found.suspects]]
    wrong = [one for one in found if one.found.suspects
             and one.tag not in [who.tag for who in one.found.suspects]]
    print(f"{len(found)} biases of {LEAST_U:g} to {MOST_U:g} u; identifiable {len(can)}, of these"
          f" named {len(named)}; of the others {len(rest)} were seen, the meter among those named"
          f" in {len(right)}; wrongly blamed in all {len(wrong)}")
    for one in can:
        if one not in named:
            print("  missed", one.tag, f"{one.size_u:.1f}", one.found.kind,
                  [(who.tag, round(who.sigma, 1)) for who in one.found.suspects])
    for name in sorted({one.tag for one in found}):
        mine = [one for one in found if one.tag == name]
        print(f"  {name:7} tried {len(mine)}, identifiable {sum(x.is_identifiable for x in mine)},"
              f" named {sum(x.found.kind == blame.NAMED for x in mine)},"
              f" grouped {sum(x.found.kind == blame.GROUP for x in mine)}")
    return int(len(named) < LEAST_NAMED_FRAC * len(can)
               or len(right) < LEAST_GROUPED_FRAC * len(rest))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
