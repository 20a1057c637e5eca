"""A day's figures by plain sums over its rows, and their spread by Monte Carlo (JCGM 101).

Knows nothing of the balance: what the rows show is taken as true, the meters are drawn
anew by their stated distributions thousands of times, and the sums are done again.
Calibrations lie anywhere within sqrt 3 of their standard uncertainty, noise is normal,
a stored level is rounded to a whole millimetre.
"""

import sys
from pathlib import Path
from typing import Any

import numpy as np
from scipy.integrate import cumulative_simpson

from keeper import channels as ch
from keeper.modes import CLOSING, MAINTENANCE, PUMPING, RUNNING, STANDSTILL, TRIAL
from tests.bench.coverage.judged_whole import half_95, played_days

TRIALS = 1000
SCAN_S = 0.1
IN_TURN = (ch.PANEL_MV, ch.PANEL_MA, ch.LAMP_MA, ch.SUPPLY_MV, ch.SUPPLY_MA)
TURNS = 3                # monitors that are read in turn, one a scan
RANGES = {ch.PANEL_MA: "panel", ch.PUMP_MA: "pump", ch.GENERATOR_MA: "generator",
          ch.LAMP_MA: "lamp", ch.SUPPLY_MA: "supply"}
VOLTS = (ch.PANEL_MV, ch.GENERATOR_MV, ch.SUPPLY_MV)
FLOWS = (ch.FLOW_UP, ch.FLOW_DOWN)
DARK_A = 0.003
MOST_RATIO = 1.5


class Day:
    """The rows of a day as plain arrays in SI."""

    def __init__(self, rows, rig, end_s):
        """Takes rows and rig; what lies behind `end_s` [s] of the boot is left out."""
        rows = rows.take(rows.uptime_ds <= 10 * end_s)
        self.rig, self.sensors = rig, rig.sensors
        self.scans = np.maximum(rows.scans.astype(float), 1.0)
        self.dt_s = np.diff(np.append(0.0, rows.uptime_ds / 10.0))
        self.state = rows.state
        self.read = {index: np.nan_to_num(rows.si(index)) for index in range(ch.COLUMNS)}
        # The tank as a table of volume and of its moment about the nozzle, by fine steps.
        height_m = rig.upper.height_m
        self.at_m = np.linspace(0.0, height_m, 2001)
        litres = np.array([1e3 * _volume_m3(rig.upper, one) for one in self.at_m])
        surface = np.gradient(litres, self.at_m)
        self.litres = litres
        self.moment = cumulative_simpson(surface * (rig.upper.base_height_m + self.at_m),
                                         x=self.at_m, initial=0.0)

    def drawn(self, draw):
        """Returns readings of as many rigs as TRIALS, by channel."""
        found: dict[int, Any] = {}
        s = self.sensors
        for channel, true in self.read.items():
            if channel in VOLTS:
                u, noise = s.voltage_frac, s.voltage_noise_V
            elif channel in RANGES:
                u = s.current_frac
                noise = s.current_noise_frac * getattr(s, f"{RANGES[channel]}_range_A")
            elif channel in FLOWS:
                u, noise = s.flow_frac, 0.0
            else:
                continue
            gain = 1.0 + u * _limited(draw, TRIALS)[:, None]
            turns = TURNS if channel in IN_TURN else 1
            blur = noise / np.sqrt(self.scans / turns) * draw.standard_normal(
                (TRIALS, len(true))) if noise else 0.0
            found[channel] = gain * true + blur
        found[ch.LEVEL_MM] = self._levels(draw)
        return found

    def _levels(self, draw):
        s, true = self.sensors, self.read[ch.LEVEL_MM]
        along = 2.0 * draw.random(TRIALS) - 1.0
        size = np.sqrt(3.0) * np.sqrt(1.0 - along**2) * s.level_uncertainty_m
        phase = 2.0 * np.pi * draw.random(TRIALS)
        angle = 0.5 * np.pi * true / self.rig.upper.height_m
        blur = s.level_noise_m / np.sqrt(self.scans) * draw.standard_normal((TRIALS, len(true)))
        # The true level lies anywhere within the millimetre that was stored.
        inside = 1e-3 * (draw.random((TRIALS, len(true))) - 0.5)
        return true + inside + size[:, None] * np.cos(phase[:, None] - angle) + blur

    def figures(self, read):
        """Returns the figures [J, L, -] of readings by name, one a rig."""
        dt, state = self.dt_s, self.state
        panel_V, supply_V = read[ch.PANEL_MV], read[ch.SUPPLY_MV]
        supply_A = read[ch.SUPPLY_MA]
        lit = self.read[ch.PANEL_MA] > DARK_A
        passes = lit & (self.read[ch.PANEL_MV] > self.read[ch.SUPPLY_MV])
        supply_W = supply_V * supply_A

        def total(watts, on=None):
            return (watts * dt if on is None else (watts * dt)[:, on]).sum(axis=1)

        found = {
            "panel": total(panel_V * read[ch.PANEL_MA]),
            "pump": total(panel_V * read[ch.PUMP_MA]),
            "generator": total(read[ch.GENERATOR_MV] * read[ch.GENERATOR_MA]),
            "lamps": total(read[ch.GENERATOR_MV] * read[ch.LAMP_MA]),
            "supply_in": total(supply_W, self.read[ch.SUPPLY_MA] > 0),
            "supply_out": -total(supply_W, self.read[ch.SUPPLY_MA] < 0),
        }
        dark_s = dt[~lit].sum()
        load_W = -total(supply_W, ~lit) / dark_s if dark_s else np.full(TRIALS, np.nan)
        found["board_load"] = load_W * dt.sum()
        found["charge"] = total(panel_V * (supply_A + load_W[:, None] / supply_V), passes)
        found["panel_node"] = found["panel"] - found["pump"] - found["charge"]
        found["generator_node"] = found["generator"] - found["lamps"]
        fills, lights = np.isin(state, (TRIAL, PUMPING)), np.isin(state, (RUNNING, CLOSING))
        found["up"] = 1e3 * total(read[ch.FLOW_UP], fills)
        found["down"] = 1e3 * total(read[ch.FLOW_DOWN], lights)
        found |= self._water(read[ch.LEVEL_MM], fills, state)
        found["fill_residual"] = found["up"] - found.pop("fill_gain")
        found["discharge_residual"] = -found.pop("light_gain") - found["down"]
        for name, above, below in (("panel_to_pump", "pump", "panel"),
                                   ("wire_to_water", "stored", "pump"),
                                   ("water_to_wire", "generator", "released"),
                                   ("generator_to_lamps", "lamps", "generator")):
            found[name] = found[above] / found[below]
        found["round_trip"] = found["wire_to_water"] * found["water_to_wire"]
        return found

    def _water(self, level_m, fills, state):
        """Returns what the tank gained, whole and by legs [L], and its energy [J]."""
        weight = 9.8 * 0.9995          # N a litre; its digits do not matter for a spread
        sums = dict.fromkeys(("fill", "light"), 0.0)
        joules = dict.fromkeys(("fill", "light"), 0.0)
        for kind, first, last in _legs(state, fills):
            # A row at rest on either side says where the leg begins and ends.
            at = [max(first - 1, 0), min(last + 1, len(state) - 1)]
            levels = [level_m[:, one] if state[one] in (STANDSTILL, MAINTENANCE)
                      else level_m[:, near] for one, near in zip(at, (first, last), strict=True)]
            litres, moment = ([np.interp(one, self.at_m, table) for one in levels]
                              for table in (self.litres, self.moment))
            sums[kind] = sums[kind] + litres[1] - litres[0]
            joules[kind] = joules[kind] + weight * (moment[1] - moment[0])
        ends = [np.interp(level_m[:, one], self.at_m, self.litres) for one in (0, -1)]
        gained = ends[1] - ends[0]
        return {"gained": gained, "fill_gain": sums["fill"], "light_gain": sums["light"],
                "rest_change": gained - sums["fill"] - sums["light"],
                "stored": joules["fill"], "released": -1.0 * joules["light"]}


def _volume_m3(upper, level_m):
    if upper.shape == "rectangular":
        return upper.length_m * upper.width_m * level_m
    if upper.shape == "upright cylinder":
        return np.pi / 4.0 * upper.diameter_m**2 * level_m
    return float(np.interp(level_m, upper.levels_m, upper.volumes_m3))


def _limited(draw, count):
    """Returns errors of deviation 1 that lie anywhere within limits (JCGM 101, 6.4.2)."""
    return np.sqrt(3.0) * (2.0 * draw.random(count) - 1.0)


def _legs(state, fills):
    """Returns [kind, first row, last row]: from the first to the last of a kind, in turn."""
    found = []
    for row, one in enumerate(state.tolist()):
        last = found[-1][0] if found else None
        kind = ("fill" if fills[row] else "light" if one == RUNNING
                or one == CLOSING and last == "light" else None)
        if kind == last and kind:
            found[-1][2] = row
        elif kind:
            found.append([kind, row, row])
    return found


def half_widths(rows, rig, end_s, seed=1):
    """Returns half of the 95 % interval of each figure, by name, and the sums of the day."""
    draw = np.random.default_rng(seed)
    day = Day(rows, rig, end_s)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = day.figures(day.drawn(draw))
    return {name: float(np.diff(np.quantile(one, (0.025, 0.975)))[0] / 2)
            for name, one in found.items() if np.ndim(one)}


def main(out, most="100", first="1"):
    """Prints the ratio of the printed interval to that by Monte Carlo; 1 if one is too wide."""
    ratios: dict[str, list[float]] = {}
    days = 0
    for day in played_days(Path(out), int(first), int(most)):
        days += 1
        widths = half_widths(day.journal.rows, day.rig, day.period[1] - day.period[0], day.seed)
        balance = day.balance()
        for name, value in (balance.energies | balance.nodes | balance.water
                            | balance.steps).items():
            if value is not None and widths.get(name, 0.0) > 0:
                ratios.setdefault(name, []).append(half_95(value) / widths[name])
    print(f"{days} days of {TRIALS} trials\n{'figure':20}{'days':>6}{'median':>8}"
          f"{'5 %':>8}{'95 %':>8}")
    bad = 0
    for name, mine in ratios.items():
        low, middle, high = np.quantile(mine, (0.05, 0.5, 0.95))
        bad += middle > MOST_RATIO
        print(f"{name:20}{len(mine):6}{middle:8.2f}{low:8.2f}{high:8.2f}"
              f"{'  TOO WIDE' if middle > MOST_RATIO else ''}")
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
