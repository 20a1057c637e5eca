"""Counts how often what was printed of a whole rig's short day holds what was true of it."""

import json
import sys
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from forebay.balance import balance_of
from forebay.balance.intervals import half_95
from forebay.balance.leaks import LEAK, TIGHT
from forebay.balance.model import NODES
from forebay.review.figures import COVERAGE
from forebay.shelf import Anchor, Clock
from forebay.shelf.clock import DS_PER_S
from forebay.shelf.decode import Journal, decode
from keeper import channels as ch
from keeper.modes import CLOSING, PUMPING, RUNNING, TRIAL
from tests.bench.coverage import whole

BEGAN_S = 1.5e9
L_PER_M3 = 1000.0
# Changes of state: time [s], state, water [m3], its energy [J], leaked and spilled [m3].
AT, STATE, WATER, ENERGY, LEAKED, SPILLED = range(6)
ERROR_FREE = 1e-9
# Expected before any run.
LEAST_FRAC, MOST_FRAC = 0.94, 0.98
MOST_CALLED_FRAC, LEAST_FOUND_FRAC = 0.05, 0.90
LEAK_U = 3.0
TOO_FEW = 100            # days: of fewer the share is told, and not judged


class Played(NamedTuple):
    """A day that was played: its seed, rig, journal, clock and period, and what was true."""

    seed: int
    rig: Any
    journal: Journal
    clock: Clock
    period: tuple[float, float]
    true: dict

    def balance(self, journal=None):
        """Returns its balance, or that of another journal of it."""
        return balance_of(self.journal if journal is None else journal, self.clock, self.rig,
                          self.rig.rig_id, self.period)


def played_days(out: Path, first=1, most=None):
    """Yields the days of a folder [Played] in the order of their seeds."""
    seeds = sorted(int(one.name) for one in out.iterdir() if (one / "true.json").exists())
    for seed in [one for one in seeds if one >= first][:most]:
        yield day_of(out, seed)


def day_of(out: Path, seed: int) -> Played:
    """Returns a day of a folder."""
    told = json.loads((out / str(seed) / "true.json").read_text(encoding="utf-8"))["true"]
    files = sorted((out / str(seed) / "board").iterdir())
    journal = decode([path.read_bytes() for path in files])
    end_s = told["changes"][-1][AT]
    true = true_figures(told)
    true["gained"] += _after_L(journal.rows, end_s)
    return Played(seed, whole.rig_of(seed), journal, Clock([Anchor(0, 1, 0, BEGAN_S, 0.05)]),
                  (BEGAN_S, BEGAN_S + end_s), true)


def _after_L(rows, end_s):
    """Returns the water [L] that ran down between the last row of a period and its end."""
    last = np.flatnonzero(rows.uptime_ds / DS_PER_S <= end_s)[-1]
    flow_m3_s = rows.si(ch.FLOW_DOWN)[last]
    return L_PER_M3 * float(flow_m3_s) * (end_s - rows.uptime_ds[last] / DS_PER_S)


def legs_of(changes):
    """Returns [kind, first change, last change] of the legs of a day: what was one filling.

    A leg runs from the first to the last time of its kind with none of the other between.
    """
    found = []
    for place, (_, state, *_) in enumerate(changes[:-1]):
        last = found[-1][0] if found else None
        if state in (TRIAL, PUMPING):
            kind = "fill"
        elif state == RUNNING or state == CLOSING and last == "discharge":
            kind = "discharge"
        else:
            continue
        if kind == last:
            found[-1][2] = place + 1
        else:
            found.append([kind, place, place + 1])
    return found


def true_figures(told):
    """Returns what was true of each figure of a balance, from what the twin said."""
    changes = told["changes"]
    grown = {"fill": [0.0] * 6, "discharge": [0.0] * 6}
    for kind, first, last in legs_of(changes):
        grown[kind] = [sum_ + after - before for sum_, before, after
                       in zip(grown[kind], changes[first], changes[last], strict=True)]
    found = {key: value for key, value in told.items() if isinstance(value, float)}
    for key, _ in NODES:
        found[key] = 0.0
    fill, light = grown["fill"], grown["discharge"]
    found["stored"], found["released"] = fill[ENERGY], -light[ENERGY]
    found["fill_residual"] = found["up"] - L_PER_M3 * fill[WATER]
    found["discharge_residual"] = -L_PER_M3 * light[WATER] - found["down"]
    found["rest_change"] = found["gained"] - L_PER_M3 * (fill[WATER] + light[WATER])
    found["leak"] = L_PER_M3 * (changes[-1][LEAKED] - changes[0][LEAKED])
    for name, above, below in (("panel_to_pump", "pump", "panel"),
                               ("wire_to_water", "stored", "pump"),
                               ("water_to_wire", "generator", "released"),
                               ("generator_to_lamps", "lamps", "generator")):
        found[name] = found[above] / found[below] if found[below] else 0.0
    found["round_trip"] = found["wire_to_water"] * found["water_to_wire"]
    return found


class Printed(NamedTuple):
    """A figure of a day: how far off [u], its u, half of its 95 % interval, whether it holds."""

    name: str
    off_u: float
    u: float
    half: float
    holds: bool
    two_u_holds: bool


def printed(found, true):
    """Yields the figures of a balance [Printed]."""
    for name, value in (found.energies | found.nodes | found.water | found.steps).items():
        if value is None:
            continue
        off, half = true[name] - value.value, half_95(value)
        yield Printed(name, off / value.u if value.u else 0.0, value.u, half,
                      abs(off) <= half + ERROR_FREE, abs(off) <= COVERAGE * value.u + ERROR_FREE)


def judge(out: Path, most=None):
    """Prints a table of all figures; returns 1 if one is outside of what is expected."""
    rows: dict[str, list[Printed]] = {}
    leaks, days = [], 0
    for day in played_days(out, most=most):
        found = day.balance()
        days += 1
        leaks.append(Verdict.of(day, found))
        for one in printed(found, day.true):
            rows.setdefault(one.name, []).append(one)
    print(f"{days} days\n{'figure':20}{'days':>6}{'95 %':>8}{'2 u':>8}{'mean':>7}{'spread':>8}"
          "  (of off / u)")
    bad = 0
    for name, mine in rows.items():
        bad += _told(name, mine)
    return int(bad + tell_leaks(leaks) > 0)


def _told(name, mine):
    """Prints a figure's line; returns whether its share is outside of what is expected."""
    offs = np.array([one.off_u for one in mine])
    share = float(np.mean([one.holds for one in mine]))
    two_u = float(np.mean([one.two_u_holds for one in mine]))
    said = ""
    if not offs.any():
        said = "exactly so, each day"
    elif len(mine) < TOO_FEW:
        said = "too few to judge"
    elif not LEAST_FRAC <= share <= MOST_FRAC:
        said = f"OUTSIDE {LEAST_FRAC:.0%} to {MOST_FRAC:.0%}"
    print(f"{name:20}{len(mine):6}{share:8.1%}{two_u:8.1%}{offs.mean():7.2f}{offs.std():8.2f}"
          f"  {said}".rstrip())
    return said.startswith("OUTSIDE")


class Verdict(NamedTuple):
    """A day's tank: whether it leaked, how much of rest_change's u that is, what was said."""

    leaked: bool
    size_u: float
    kind: str
    rate_off_u: float

    @classmethod
    def of(cls, day, found):
        """Returns that of a day's balance."""
        leak, hours = found.leak, (day.period[1] - day.period[0]) / 3600.0
        rate = leak.litres_h
        return cls(day.true["leak"] > 0, -day.true["rest_change"] / leak.litres.u
                   if leak.litres else 0.0, leak.kind,
                   (rate.value - day.true["leak"] / hours) / rate.u if rate else 0.0)


def tell_leaks(verdicts):
    """Prints how often a tank was said to leak; returns how many of the bars were missed."""
    tight = [one for one in verdicts if not one.leaked]
    called = [one for one in tight if one.kind != TIGHT]
    large = [one for one in verdicts if one.size_u >= LEAK_U]
    found = [one for one in large if one.kind == LEAK]
    smaller = [one for one in verdicts if one.leaked and one.size_u < LEAK_U]
    seen = [one for one in smaller if one.kind == LEAK]
    print(f"tight tanks {len(tight)}, called leaking or gaining {len(called)}; leaks of"
          f" {LEAK_U:g} u of rest_change or more {len(large)}, found {len(found)}; smaller"
          f" {len(smaller)}, found {len(seen)}")
    rates = np.array([one.rate_off_u for one in verdicts])
    print(f"rate of loss off by its u: mean {rates.mean():.2f}, spread {rates.std():.2f}")
    return int(len(called) > MOST_CALLED_FRAC * len(tight)) + int(
        len(found) < LEAST_FOUND_FRAC * len(large))


def main(out, most=None):
    """Judges a folder; returns the exit code."""
    return judge(Path(out), int(most) if most else None)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
