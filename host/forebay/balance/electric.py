"""Energies at the electrical nodes, from totals where there are totals.

Rows are rounded to the last digit of their channel, totals are not: so even
the board's load, sixteen times that digit, comes from totals, seen where
nothing charges the battery.  Two energies need rows: what the charger takes
at the panel, and what the clamp turns into heat.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from forebay.balance.instruments import ALL, HALF_WIDTH, Meters, tag
from forebay.balance.measured import Measured
from forebay.balance.shares import Cut
from forebay.balance.spans import Spans
from forebay.balance.sums import METERED, OF_SUPPLY, Flowed, Sums
from forebay.shelf import Rows
from forebay.si import unit_of
from keeper import channels as ch
from keeper.channels import TOTALS

# Energies of less than this are chance (a guess: ten seconds of full light).
LEAST_ENERGY_J = 10.0


@dataclass
class Electric:
    """Sums and totals of a period, ready to be turned into energies.

    spans: see `balance.spans`; dark: their part without sun; fitted: names of the instruments
    that are there; cuts: where the period parts a span.  rows, ends_s, seconds: rows that
    were kept, for who models the rig.  is_load_seen: whether the board's load could be.
    """

    sums: Sums
    spans: Spans
    dark: Spans
    rig: Any
    meters: Meters
    fitted: frozenset = ALL
    cuts: list[Cut] = field(default_factory=list)
    rows: Rows = field(default_factory=lambda: Rows.empty(0))
    ends_s: np.ndarray = field(default_factory=lambda: np.empty(0))
    seconds: np.ndarray = field(default_factory=lambda: np.empty(0))
    is_load_seen: bool = False

    def energies(self, notes: list[str]) -> dict[str, Measured]:
        """Return the electrical energies [J]; says in `notes` what was assumed.

        Of a meter that is not there the totals have not grown: what they say is no figure.
        """
        found = {name: with_cuts(self._metered(self.spans, flowed, *where), self.cuts, where[0])
                 for (name, *where), flowed in zip(METERED, self.sums.flowed, strict=True)}
        load_W = self._board_load_W(notes)
        found["board_load"] = load_W * self.spans.seconds
        battery = found["supply_in"] - found["supply_out"] + found["board_load"]
        found["charge"] = battery * self._panel_volts_a_supply_volt()
        found["clamp"] = self._clamp()
        return found

    def _metered(self, spans, flowed: Flowed, total, volts_channel, amps_channel, sign):
        """Return an energy [J] over some spans; flowed: sums of their rows."""
        joules = spans.growth_si(total)
        volts, amps, seconds = flowed.rms
        # An outward current reads less, not more, when its meter reads high.
        energy = sign * self.meters.energy(
            sign * joules, volts_channel, amps_channel, volts, sign * amps, seconds
        )
        error = spans.error_si(total) * HALF_WIDTH
        return energy.with_part(f"{TOTALS[total]} from rows", error) if error else energy

    def _board_load_W(self, notes):
        self.is_load_seen = "supply_meter" in self.fitted and bool(self.dark.seconds)
        if not self.is_load_seen:
            if "supply_meter" in self.fitted:
                notes.append("No dark hour was seen: the board's load is the one stated for the"
                             " rig.")
            return self.stated_load_W()
        notes.append("The board's load by day is taken as the one seen in the dark.")
        gone = {METERED[place][0]: self._metered(self.dark, flowed, *METERED[place][1:])
                for place, flowed in zip(OF_SUPPLY, self.sums.dark, strict=True)}
        return (gone["supply_out"] - gone["supply_in"]) / self.dark.seconds

    def stated_load_W(self) -> Measured:
        """Return what the description says that the board uses [W]."""
        watt = self.rig.supply.board_load_W
        return Measured(watt).with_part("stated board load",
                                        watt * self.rig.model.board_load_frac)

    def _panel_volts_a_supply_volt(self):
        """Return the charger's ratio of voltages [-], weighted by what it passes.

        A series charger: the current that it gives the battery is the one
        that it takes, at the panel's voltage.
        """
        ratio = self.sums.charged.maybe_ratio()
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
