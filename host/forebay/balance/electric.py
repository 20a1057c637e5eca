"""Energies at the electrical nodes, from totals where there are totals.

Rows are rounded to the last digit of their channel, totals are not: so even
the board's load, sixteen times that digit, comes from totals, seen where
nothing charges the battery.  Two energies need rows: what the charger takes
at the panel, and what the clamp turns into heat.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from forebay.balance.boardload import load_of
from forebay.balance.instruments import ALL, HALF_WIDTH, Meters, tag
from forebay.balance.measured import Measured
from forebay.balance.moving import Moving
from forebay.balance.shares import Cut
from forebay.balance.spans import FILL_STATES, Spans
from forebay.balance.sums import METERED, Charged, Flowed, Sums
from forebay.shelf import Rows
from forebay.si import unit_of
from keeper import channels as ch
from keeper.channels import TOTALS

# Energies of less than this are chance (a guess: ten seconds of full light).
LEAST_ENERGY_J = 10.0


@dataclass
class Electric:
    """Sums and totals of a period, ready to be turned into energies.

    spans: see `balance.spans`; dark: their parts without sun, each as one, by the kinds of
    `sums.DARK_KINDS`; fitted: names of the instruments that are there; cuts: where the
    period parts a span.  rows, ends_s: rows that were kept; moving: what a model of the rig
    needs of all rows, None where its water is metered.  is_load_seen: whether the board's load
    could be; load_W: of the board at rest [W], once `energies` was asked for.
    """

    sums: Sums
    spans: Spans
    dark: dict[int, Spans]
    rig: Any
    meters: Meters
    fitted: frozenset = ALL
    cuts: list[Cut] = field(default_factory=list)
    rows: Rows = field(default_factory=lambda: Rows.empty(0))
    ends_s: np.ndarray = field(default_factory=lambda: np.empty(0))
    moving: Moving | None = None
    is_load_seen: bool = False
    load_W: Measured = field(default_factory=lambda: Measured(0.0))

    def energies(self, notes: list[str]) -> dict[str, Measured]:
        """Return the electrical energies [J]; says in `notes` what was assumed.

        Of a meter that is not there the totals have not grown: what they say is no figure.
        """
        found = {name: with_cuts(self.metered(self.spans, flowed.all, *where), self.cuts, where[0])
                 for (name, *where), flowed in zip(METERED, self.sums.flowed, strict=True)}
        self.load_W, found["board_load"], self.is_load_seen = load_of(self, notes)
        battery = found["supply_in"] - found["supply_out"] + found["board_load"]
        found["charge"] = battery * self.panel_volts_a_supply_volt(self.load_W)
        found["clamp"] = self._clamp()
        return found

    def maybe_idle_pump(self) -> Measured | None:
        """Return nothing [J or L] where the pump was off in all that is known, else None."""
        is_idle = not self.spans.of(FILL_STATES).seconds and not self.spans.growth(ch.T_PUMP_MS)
        return Measured(0.0) if is_idle and self.spans.seconds else None

    def metered(self, spans: Spans, flowed: Flowed, total, volts_channel, amps_channel,
                sign) -> Measured:
        """Return an energy [J] over some spans; flowed: sums of their rows."""
        joules = spans.growth_si(total)
        volts, amps, seconds = flowed.rms
        # An outward current reads less, not more, when its meter reads high.
        energy = sign * self.meters.energy(
            sign * joules, volts_channel, amps_channel, volts, sign * amps, seconds
        )
        error = spans.error_si(total) * HALF_WIDTH
        return energy.with_part(f"{TOTALS[total]} from rows", error) if error else energy

    def panel_volts_a_supply_volt(self, load_W: Measured, charged: Charged | None = None
                                  ) -> Measured:
        """Return the charger's ratio of voltages [-], weighted by what it passes.

        A series charger: the current that it gives the battery is the one
        that it takes, at the panel's voltage.  load_W: of the board, at rest; charged: sums
        of the rows that count, None = all.
        """
        counted: Charged = self.sums.charged.all if charged is None else charged
        ratio = counted.maybe_ratio(load_W.value)
        if ratio is None:
            return Measured(0.0)
        part = ratio * self.meters.sensors.voltage_frac
        return (
            Measured(ratio).with_part(tag(ch.PANEL_MV), part).with_part(tag(ch.SUPPLY_MV), -part)
        )

    def _clamp(self):
        """Return the heat in the clamp, from its voltage above its threshold."""
        joules, earlier_J = self.sums.clamped_J.tolist()
        error = self.sums.clamped_slope_J * self.meters.sensors.voltage_frac
        found = Measured(joules).with_part(tag(ch.GENERATOR_MV), error)
        if "generator_meter" in self.fitted:
            return found
        # Nothing checks what a clamp is said to do; one that begins earlier takes more.
        return found.with_part("where the clamp begins", earlier_J - joules)


def with_cuts(found: Measured, cuts: list[Cut], total: int, states=None,
              scale: float | None = None) -> Measured:
    """Return a sum of a total with what is not known of its share of spans that are cut.

    states: those that count, None = all; scale: of the result over the total's unit, None =
    its SI unit.
    """
    factor = unit_of(TOTALS[total]).factor if scale is None else scale
    for one in cuts:
        half = float(one.error[total]) * factor
        if half and (states is None or one.state in states):
            found = found.with_part(("cut", one.at_s, total), half * HALF_WIDTH)
    return found


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
