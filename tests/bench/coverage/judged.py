"""Counts how often what was printed of a day holds what was true of it."""

import json
import sys
from pathlib import Path

from forebay.balance import balance_of
from forebay.balance.ways import BOUNDS
from forebay.review.figures import COVERAGE
from forebay.rig import load
from forebay.shelf import Anchor, Clock
from forebay.shelf.decode import decode
from tests.bench.coverage.drawn import DAY_S

# Expected before any run.  +- 2 u of a normal distribution holds 95.4 %, of a triangular
# one 96.6 % (GUM 6.3, 4.3.9); of a few rectangular ones somewhat more.
LEAST_FRAC, MOST_FRAC = 0.94, 0.99
# A bound is no interval of chance: it holds unless what it rests on is off by over 2 u.
LEAST_OF_BOUNDS_FRAC = 0.94
BEGAN_S = 1.5e9
TOO_FEW = 100            # days: of fewer the share is told, and not judged


def balanced(folder, rig):
    """Returns the balance of a played day, by its journal and the description alone."""
    files = sorted((folder / "board").iterdir())
    journal = decode([path.read_bytes() for path in files])
    clock = Clock([Anchor(0, 1, 0, BEGAN_S, 0.05)])
    return balance_of(journal, clock, rig, rig.rig_id, (BEGAN_S, BEGAN_S + DAY_S))


def true_figures(told):
    """Returns what was true of each figure, from what the twin said."""
    steps = {}
    for name, above, below in (("water_to_wire", "generator", "released"),
                               ("wire_to_water", "stored", "pump"),
                               ("panel_to_pump", "pump", "panel")):
        steps[name] = told[above] / told[below] if told[below] else 0.0
    return {**told, **steps}


def printed(found, true):
    """Yields (figure, whether in bounds only, off in standard uncertainties or None, holds)."""
    for name, value in (found.energies | found.water | found.steps).items():
        if name not in true:
            continue
        told = found.told[name]
        if told.kind == BOUNDS:
            yield name, True, None, not (
                told.low is not None and true[name] < told.low
                or told.high is not None and true[name] > told.high)
        elif value is not None:
            off = true[name] - value.value
            yield (name, False, off / value.u if value.u else 0.0,
                   abs(off) <= COVERAGE * value.u + 1e-9)


def counted(out, rig):
    """Returns {(figure, in bounds only): [(seed, off, holds) of each day]} of a folder."""
    rows: dict = {}
    for folder in sorted(out.iterdir(), key=lambda one: int(one.name)):
        said = folder / "true.json"
        if not said.exists():
            continue
        true = true_figures(json.loads(said.read_text(encoding="utf-8"))["true"])
        for name, is_bound, off, holds in printed(balanced(folder, rig), true):
            rows.setdefault((name, is_bound), []).append((int(folder.name), off, holds))
    return rows


def judge(out: Path, demo="orchard"):
    """Prints the share of each figure; returns 1 if one is outside what is expected."""
    bad = 0
    print(f"{'figure':16}{'days':>6}{'held':>8}  {'mean':>6}{'spread':>8}  (of off / u)")
    for (name, is_bound), days in sorted(counted(out, load(demo=demo)).items()):
        share = sum(holds for _, _, holds in days) / len(days)
        least, most = (LEAST_OF_BOUNDS_FRAC, 1.0) if is_bound else (LEAST_FRAC, MOST_FRAC)
        is_exact = all(off == 0.0 for _, off, _ in days) and not is_bound
        said = "bounds" if is_bound else ""
        if is_exact:
            said = "exactly so, each day"
        elif len(days) < TOO_FEW:
            said += " too few to judge"
        elif not least <= share <= most:
            bad += 1
            said += f" OUTSIDE {least:.0%} to {most:.0%}"
        print(f"{name:16}{len(days):6}{share:8.1%}  {_scatter(days)}  {said}".rstrip())
    sys.stdout.flush()
    return int(bad > 0)


def _scatter(days):
    offs = [off for _, off, _ in days if off is not None]
    if not offs:
        return f"{'':14}"
    mean = sum(offs) / len(offs)
    spread = (sum((off - mean) ** 2 for off in offs) / len(offs)) ** 0.5
    return f"{mean:6.2f}{spread:8.2f}"
