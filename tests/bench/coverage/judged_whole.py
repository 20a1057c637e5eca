"""Counts how often what was printed of a whole rig's short day holds what was true of it."""

import json
import sys
from pathlib import Path
from typing import NamedTuple

from forebay.balance import balance_of
from forebay.balance.model import NODES
from forebay.review.figures import COVERAGE
from forebay.shelf import Anchor, Clock
from forebay.shelf.decode import decode
from keeper.modes import CLOSING, PUMPING, RUNNING, TRIAL
from tests.bench.coverage import whole

BEGAN_S = 1.5e9
L_PER_M3 = 1000.0
# Changes of state: time [s], state, water [m3], its energy [J], leaked and spilled [m3].
AT, STATE, WATER, ENERGY, LEAKED, SPILLED = range(6)
ERROR_FREE = 1e-9


class Played(NamedTuple):
    """A day that was played: its seed, rig, journal, clock and period, and what was true."""

    seed: int
    rig: object
    journal: object
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
    end_s = told["changes"][-1][AT]
    return Played(seed, whole.rig_of(seed), decode([path.read_bytes() for path in files]),
                  Clock([Anchor(0, 1, 0, BEGAN_S, 0.05)]), (BEGAN_S, BEGAN_S + end_s),
                  true_figures(told))


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


def printed(found, true):
    """Yields (figure, off in standard uncertainties, holds, u) of a balance."""
    for name, value in (found.energies | found.nodes | found.water | found.steps).items():
        if value is not None:
            off = true[name] - value.value
            yield (name, off / value.u if value.u else 0.0,
                   abs(off) <= COVERAGE * value.u + ERROR_FREE, value.u)


def main(out, most=None):
    """Prints what was found so far."""
    rows = {}
    for day in played_days(Path(out), most=int(most) if most else None):
        for name, off, holds, u in printed(day.balance(), day.true):
            rows.setdefault(name, []).append((off, holds, u))
    for name, days in rows.items():
        offs = [one for one, _, _ in days]
        mean = sum(offs) / len(offs)
        spread = (sum((one - mean) ** 2 for one in offs) / len(offs)) ** 0.5
        print(f"{name:20}{len(days):6}{sum(h for _, h, _ in days) / len(days):8.1%}"
              f"{mean:7.2f}{spread:7.2f}  max {max(map(abs, offs)):.1f}")


if __name__ == "__main__":
    main(*sys.argv[1:])
