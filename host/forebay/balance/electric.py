"""Energies at the electrical nodes, from totals where there are totals.

Rows are rounded to the last digit of their channel, totals are not: so even
the board's load, sixteen times that digit, comes from totals, seen where
nothing charges the battery.  Two energies need rows: what the charger takes
at the panel, and what the clamp turns into heat.
"""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from forebay.balance.instruments import ALL, HALF_WIDTH, Meters, tag
from forebay.balance.measured import Measured
from forebay.balance.spans import LIGHT_STATES, Spans
from forebay.shelf import Rows
from keeper import channels as ch
from keeper.channels import TOTALS

# Below this the panel gives nothing: three steps of the monitor's last digit.
DARK_STEPS = 3
# Energies of less than this are chance (a guess: ten seconds of full light).
LEAST_ENERGY_J = 10.0
# So long the board must have been at rest in the dark for its load there to be told alone (a
# guess: four of the longest rows).
LEAST_REST_S = 240.0
STATED = "stated board load"

# energy, its total, its meters, the sign of its current
METERED = (
    ("panel", ch.T_PANEL, ch.PANEL_MV, ch.PANEL_MA, 1),
    ("pump", ch.T_PUMP, ch.PANEL_MV, ch.PUMP_MA, 1),
    ("supply_in", ch.T_SUPPLY_IN, ch.SUPPLY_MV, ch.SUPPLY_MA, 1),
    ("supply_out", ch.T_SUPPLY_OUT, ch.SUPPLY_MV, ch.SUPPLY_MA, -1),
    ("generator", ch.T_GENERATOR, ch.GENERATOR_MV, ch.GENERATOR_MA, 1),
    ("lamps", ch.T_LAMP, ch.GENERATOR_MV, ch.LAMP_MA, 1),
)


@dataclass
class Electric:
    """Rows and totals of a period, ready to be turned into energies.

    rows: the rows; seconds: the length of each [s]; ends_s: the end of each
    on the axis of the spans [s]; spans: see `balance.spans`; fitted: names of the
    instruments that are there.  is_load_seen: whether the board's load could be; load_W:
    of the board at rest [W], once `energies` was asked for.
    """

    rows: Rows
    ends_s: np.ndarray
    seconds: np.ndarray
    spans: Spans
    rig: Any
    meters: Meters
    fitted: frozenset = ALL
    is_load_seen: bool = False
    load_W: Measured = field(default_factory=lambda: Measured(0.0))

    def energies(self, notes: list[str]) -> dict[str, Measured]:
        """Return the electrical energies [J]; says in `notes` what was assumed.

        Of a meter that is not there the totals have not grown: what they say is no figure.
        """
        every_row = np.ones(len(self.seconds), bool)
        found = {name: self.metered(self.spans, every_row, *where) for name, *where in METERED}
        load_W, found["board_load"] = self._board_load(notes)
        self.load_W = load_W
        battery = found["supply_in"] - found["supply_out"] + found["board_load"]
        found["charge"] = battery * self.panel_volts_a_supply_volt(load_W)
        found["clamp"] = self._clamp()
        return found

    def _series(self, volts_channel, amps_channel):
        """Return (V, A, usable): readings [V], [A] with 0 where one is not trusted."""
        volts, amps = self.rows.si(volts_channel), self.rows.si(amps_channel)
        usable = np.isfinite(volts) & np.isfinite(amps)
        return np.where(usable, volts, 0.0), np.where(usable, amps, 0.0), usable

    def metered(self, spans, rows, total, volts_channel, amps_channel, sign):
        """Return an energy [J] over some spans; rows: mask of the rows within them."""
        joules = spans.growth_si(total)
        volts, amps, _ = self._series(volts_channel, amps_channel)
        volts, amps, seconds = self._flowing(volts, amps * sign, rows)
        # An outward current reads less, not more, when its meter reads high.
        energy = sign * self.meters.energy(
            sign * joules, volts_channel, amps_channel, volts, sign * amps, seconds
        )
        error = spans.error_si(total) * HALF_WIDTH
        return energy.with_part(f"{TOTALS[total]} from rows", error) if error else energy

    def _flowing(self, volts, amps, rows):
        """Return root mean squares [V], [A] and time [s] of those rows in which current flowed."""
        on = rows & (amps > DARK_STEPS * self.meters.sensors.current_resolution_A)
        seconds = float(self.seconds[on].sum())
        if not seconds:
            return 0.0, 0.0, 0.0
        mean = [float((x[on] ** 2 * self.seconds[on]).sum() / seconds) for x in (volts, amps)]
        return mean[0] ** 0.5, mean[1] ** 0.5, seconds

    def _sunlit(self):
        """Return (mask of rows with panel current, mask of rows known to have none).

        Without a meter of it: a charger passes nothing below the battery's voltage.
        """
        if "panel_meter" not in self.fitted:
            panel_V, supply_V = self.rows.si(ch.PANEL_MV), self.rows.si(ch.SUPPLY_MV)
            return panel_V > supply_V, panel_V <= supply_V
        _, amps, usable = self._series(ch.PANEL_MV, ch.PANEL_MA)
        least_A = DARK_STEPS * self.meters.sensors.current_resolution_A
        return usable & (amps > least_A), usable & (amps <= least_A)

    def _dark_spans(self):
        """Return the mask of spans that hold rows, none of them with panel current."""
        _, dark = self._sunlit()
        place, inside = self._place
        count = len(self.spans.end_s)
        hours_lit = np.bincount(place[inside], (~dark)[inside], count)
        hours_dark = np.bincount(place[inside], dark[inside], count)
        return (hours_lit == 0) & (hours_dark > 0)

    @cached_property
    def _place(self):
        """(place of each row among the spans [-], mask of rows that lie in one)."""
        place = np.searchsorted(self.spans.end_s, self.ends_s - self.seconds / 2)
        return place, place < len(self.spans.end_s)

    def _taken(self, chosen):
        """Return (what the board took in chosen spans [J], their length [s])."""
        spans = self.spans.where(chosen)
        place, inside = self._place
        rows = inside & np.append(chosen, False)[place]
        of_supply = [one for one in METERED if "supply" in one[0]]
        gone = {name: self.metered(spans, rows, *where) for name, *where in of_supply}
        return gone["supply_out"] - gone["supply_in"], spans.seconds

    def _board_load(self, notes):
        """Return (the board's load at rest [W], what it took in all [J]).

        In the dark it is what the battery gave; by day as much as at rest in the dark, and
        with light, whose valve's motor takes some as well, as much as with light in the dark.
        """
        dark = self._dark_spans()
        self.is_load_seen = "supply_meter" in self.fitted and bool(self.spans.where(dark).seconds)
        if not self.is_load_seen:
            if "supply_meter" in self.fitted:
                notes.append("No dark hour was seen: the board's load is the one stated for the"
                             " rig.")
            load_W = self.stated_load_W()
            return load_W, load_W * self.spans.seconds
        notes.append("The board's load by day is taken as the one seen in the dark.")
        taken_J, dark_s = self._taken(dark)
        load_W = taken_J / dark_s
        lit = np.isin(self.spans.state, LIGHT_STATES)
        # Of the valve's last move a part may be told in the span after it.
        resting = dark & ~lit & ~np.append(False, lit[:-1])[: len(lit)]
        if self.spans.where(resting).seconds >= LEAST_REST_S:
            resting_J, resting_s = self._taken(resting)
            load_W = resting_J / resting_s
        elif lit[dark].any():
            load_W = load_W.with_part(STATED, load_W.value * self.rig.model.board_load_frac)
        for state in LIGHT_STATES:
            mine = self.spans.state == state
            moving_s = self.spans.where(mine & ~dark).seconds
            if moving_s and (mine & dark).any():
                moving_J, seen_s = self._taken(mine & dark)
                moving_J *= moving_s / seen_s
                # How much the valve moved by day nobody saw: between not at all and twice that.
                more_J = abs(moving_J.value - load_W.value * moving_s)
                taken_J += moving_J.with_noise(more_J * HALF_WIDTH)
                dark_s += moving_s
        return load_W, taken_J + load_W * (self.spans.seconds - dark_s)

    def stated_load_W(self) -> Measured:
        """Return what the description says that the board uses [W]."""
        watt = self.rig.supply.board_load_W
        return Measured(watt).with_part(STATED, watt * self.rig.model.board_load_frac)

    def panel_volts_a_supply_volt(self, load_W, rows=None) -> Measured:
        """Return the charger's ratio of voltages [-], weighted by what it passes.

        A series charger: the current that it gives the battery is the one
        that it takes, at the panel's voltage.  load_W: of the board, at rest; rows: mask of
        those that count, None = all.
        """
        panel_V = np.nan_to_num(self.rows.si(ch.PANEL_MV))
        supply_V, supply_A, known = self._series(ch.SUPPLY_MV, ch.SUPPLY_MA)
        lit = self._sunlit()[0] & known & (supply_V > 0)
        if rows is not None:
            lit &= rows
        if not lit.any():
            return Measured(0.0)
        # Beside the load, which by day may be less than in the dark: then the most that the
        # battery gave.
        load_A = load_W.value / np.where(lit, supply_V, 1.0)
        load_A = np.minimum(load_A, -min(float(supply_A[lit].min()), 0.0))
        passed = np.where(lit, np.maximum(supply_A + load_A, 0.0), 0.0)
        weight = passed * self.seconds
        if weight.sum() <= 0:
            return Measured(0.0)
        ratio = float((panel_V * weight).sum() / (supply_V * weight).sum())
        part = ratio * self.meters.sensors.voltage_frac
        return (
            Measured(ratio).with_part(tag(ch.PANEL_MV), part).with_part(tag(ch.SUPPLY_MV), -part)
        )

    def _clamp(self):
        """Return the heat in the clamp, from its voltage above its threshold."""
        generator = self.rig.generator
        is_metered = "generator_meter" in self.fitted
        volts = self.generator_volts()
        if is_metered:
            amps = self.rows.si(ch.GENERATOR_MA)
            volts = np.where(np.isfinite(amps) & (amps > 0), volts, 0.0)
        begins_V, ohm = generator.clamp_voltage_V, generator.clamp_resistance_ohm
        joules = self._clamped_J(volts, begins_V, ohm)
        over_V = volts > begins_V
        slope = np.where(over_V, (2 * volts - begins_V) / ohm, 0.0)
        error = float((slope * volts * self.seconds).sum()) * self.meters.sensors.voltage_frac
        found = Measured(joules).with_part(tag(ch.GENERATOR_MV), error)
        if is_metered:
            return found
        # Nothing checks what a clamp is said to do; one that begins earlier takes more.
        earlier_V = begins_V * (1 - self.rig.model.clamp_frac)
        return found.with_part("where the clamp begins",
                               self._clamped_J(volts, earlier_V, ohm) - joules)

    def _clamped_J(self, volts, begins_V, ohm):
        over_V = np.maximum(volts - begins_V, 0.0)
        return float((over_V / ohm * volts * self.seconds).sum())

    def generator_volts(self) -> np.ndarray:
        """Return the voltage of the generator's wires in each row [V], 0 where not trusted."""
        return np.nan_to_num(self.rows.si(ch.GENERATOR_MV))


def nodes(energies: dict[str, Measured]) -> dict[str, Measured]:
    """Return what is left over at each node [J]; 0 within its uncertainty on a sound rig.

    Where nothing flowed, totals still grow by a count or two of noise, of
    which no meter's error speaks: so each node has that of chance as well.
    """
    found = {
        "panel_node": energies["panel"] - energies["pump"] - energies["charge"],
        "generator_node": energies["generator"] - energies["lamps"] - energies["clamp"],
    }
    return {key: left.with_noise(LEAST_ENERGY_J * HALF_WIDTH) for key, left in found.items()}
