"""What the rows of a period add up to: all that a balance needs of them besides levels.

Sums of two parts of a period are those of the whole, so that it never has to be held at
once.  Works on the journal's own steps; what is not trusted counts as nothing.
"""

import math
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np

from forebay.balance.dark import DARK_KINDS, PLACES, SUN, by_kind, sunlit, travels
from forebay.balance.instruments import ALL, COVERAGE, Meters
from forebay.balance.spans import FILL_STATES, LIGHT_STATES, among
from forebay.rig.instruments import BY_NAME
from forebay.si import are_trusted, step, stored_si, unit_of
from keeper import channels as ch
from keeper.journal.rows import NOT_TRUSTED
from keeper.modes import RUNNING
from keeper.physics import of_rig

# Below this the panel gives nothing: three steps of the monitor's last digit.
DARK_STEPS = 3
# energy, its total, its meters, the sign of its current
METERED = (
    ("panel", ch.T_PANEL, ch.PANEL_MV, ch.PANEL_MA, 1),
    ("pump", ch.T_PUMP, ch.PANEL_MV, ch.PUMP_MA, 1),
    ("supply_in", ch.T_SUPPLY_IN, ch.SUPPLY_MV, ch.SUPPLY_MA, 1),
    ("supply_out", ch.T_SUPPLY_OUT, ch.SUPPLY_MV, ch.SUPPLY_MA, -1),
    ("generator", ch.T_GENERATOR, ch.GENERATOR_MV, ch.GENERATOR_MA, 1),
    ("lamps", ch.T_LAMP, ch.GENERATOR_MV, ch.LAMP_MA, 1),
)
OF_SUPPLY = tuple(place for place, one in enumerate(METERED) if "supply" in one[0])
# kind of leg, its states, its total, its meter
SIDES = (
    ("fill", FILL_STATES, ch.T_UP, ch.FLOW_UP),
    ("discharge", LIGHT_STATES, ch.T_DOWN, ch.FLOW_DOWN),
)
# What lifts below the overflow, the nearest first, by name: its contact.
FULL_FLOATS = {"over_full_float": ch.C_71HH_UP, "full_float": ch.C_71H_UP}
# Rows that are summed at a time: their work arrays then stay in a core's cache.
AT_ONCE = 16_384
# Less of a sum than this is what floats leave of nothing.
CHANCE_FRAC = 1e-9


@dataclass
class Flowed:
    """Sums over the time in which a current flowed: of V2 dt [V2 s], of A2 dt [A2 s], time [s]."""

    volts2: float = 0.0
    amps2: float = 0.0
    seconds: float = 0.0

    def __add__(self, other: "Flowed") -> "Flowed":
        return Flowed(self.volts2 + other.volts2, self.amps2 + other.amps2,
                      self.seconds + other.seconds)

    @property
    def rms(self) -> tuple[float, float, float]:
        """Root mean squares [V], [A] and the time [s]."""
        if not self.seconds:
            return 0.0, 0.0, 0.0
        return ((self.volts2 / self.seconds) ** 0.5, (self.amps2 / self.seconds) ** 0.5,
                self.seconds)


@dataclass
class Charged:
    """Sums over rows with sun: of V dt and V A dt at the panel and at the battery.

    panel_ratio_s: of the panel's voltage over the battery's; per_volt_s: of one over the
    battery's; amps_s, seconds: of A dt and dt; least_A: the most that the battery gave.
    """

    panel_Vs: float = 0.0
    panel_VAs: float = 0.0
    supply_Vs: float = 0.0
    supply_VAs: float = 0.0
    panel_ratio_s: float = 0.0
    per_volt_s: float = 0.0
    amps_s: float = 0.0
    seconds: float = 0.0
    least_A: float = np.inf

    def __add__(self, other: "Charged") -> "Charged":
        sums = {name: value + getattr(other, name) for name, value in vars(self).items()}
        return Charged(**{**sums, "least_A": min(self.least_A, other.least_A)})

    def maybe_ratio(self, load_W: float) -> float | None:
        """Return the ratio of voltages [-], weighted by what is passed; None if nothing is.

        Passed is what the battery takes and the load [W] beside it, which by day may be less
        than in the dark: then the most that the battery gave [A].
        """
        if not self.seconds:
            return None
        gave_A = max(-self.least_A, 0.0)
        load_As = load_W * self.per_volt_s
        panel, supply = load_W * self.panel_ratio_s, load_W * self.seconds
        if load_As > gave_A * self.seconds:
            load_As, panel, supply = (gave_A * one for one in (
                self.seconds, self.panel_Vs, self.supply_Vs))
        if self.amps_s + load_As <= CHANCE_FRAC * (abs(self.amps_s) + load_As):
            return None
        return (self.panel_VAs + panel) / (self.supply_VAs + supply)


@dataclass
class ByPump:
    """The same of rows with the pump off, and on."""

    off: Any
    on: Any

    def __add__(self, other: "ByPump") -> "ByPump":
        return ByPump(self.off + other.off, self.on + other.on)

    @property
    def all(self) -> Any:
        """Of both together."""
        return self.off + self.on


@dataclass
class Sums:
    """Sums over rows.

    flowed: of each of METERED; dark: of the battery's two, in spans without sun, by kind;
    charged; wheel: of V dt, A dt and dt of the lamps while they shone and the valve was open;
    level_at_rim: whether the level ever was at the overflow;
    clamped_J: in the clamp, were it to begin as stated, and earlier; clamped_slope_J: by a
    share of the voltage; unseen_L: of each of SIDES what its meter may have missed; runs:
    how often its flow began; at_rim_m3, at_rim: what was pumped with the water at the
    overflow, as far as that can be told, and whether it ever was; travel: of the valve and
    times that it was pressed on, by the kinds of `dark.PLACES`; degC, degC_rows: of the
    water; read: whether a channel was ever trusted; rows.
    """

    flowed: list[ByPump] = field(default_factory=lambda: [ByPump(Flowed(), Flowed())
                                                         for _ in METERED])
    dark: dict[int, list[Flowed]] = field(default_factory=lambda: {
        kind: [Flowed() for _ in OF_SUPPLY] for kind in DARK_KINDS})
    charged: ByPump = field(default_factory=lambda: ByPump(Charged(), Charged()))
    wheel: np.ndarray = field(default_factory=lambda: np.zeros(3))
    level_at_rim: bool = False
    clamped_J: np.ndarray = field(default_factory=lambda: np.zeros(2))
    clamped_slope_J: float = 0.0
    unseen_L: np.ndarray = field(default_factory=lambda: np.zeros(len(SIDES)))
    runs: np.ndarray = field(default_factory=lambda: np.zeros(len(SIDES), int))
    at_rim_m3: float = 0.0
    at_rim: bool = False
    travel: np.ndarray = field(default_factory=lambda: np.zeros((2, len(PLACES))))
    degC: float = 0.0
    degC_rows: int = 0
    read: np.ndarray = field(default_factory=lambda: np.zeros(ch.COLUMNS, bool))
    rows: int = 0

    def __add__(self, other: "Sums") -> "Sums":
        def added(name):
            one, two = getattr(self, name), getattr(other, name)
            if isinstance(one, list):
                return [a + b for a, b in zip(one, two, strict=True)]
            if isinstance(one, dict):
                return {kind: [a + b for a, b in zip(one[kind], two[kind], strict=True)]
                        for kind in one}
            return one | two if name in ("read", "at_rim", "level_at_rim") else one + two

        found = Sums()
        for one in fields(self):
            setattr(found, one.name, added(one.name))
        return found

    @property
    def water_degC(self) -> float | None:
        """The mean temperature of the water [degC], None if it was never read."""
        return self.degC / self.degC_rows if self.degC_rows else None


class Summing:
    """Adds up rows.  rig: the description, for the meters and the clamp; fitted: names."""

    def __init__(self, rig, fitted=ALL):
        self.rig, self.fitted = rig, fitted
        self.meters = Meters(rig.sensors, fitted)
        self.least = int(DARK_STEPS * rig.sensors.current_resolution_A / _si_step(ch.PANEL_MA)
                         + 1e-9)
        # Whole steps, so that the journal's own numbers are compared as they are.
        self.rim_steps = math.ceil(_rim_m(rig) / _si_step(ch.LEVEL_MM))
        self.floor_steps = [math.ceil(rig.sensors.flow_floor_m3_s / _si_step(channel))
                            for *_, channel in SIDES]
        earlier_V = rig.generator.clamp_voltage_V * (1 - rig.model.clamp_frac)
        self.clamp_steps = math.floor(earlier_V / _si_step(ch.GENERATOR_MV)) - 1
        self.places = sorted({place for one in BY_NAME.values() for place in one.reads
                              if place < ch.COLUMNS})

    def sunlit(self, rows) -> np.ndarray:
        """Return of each row SUN, DARK, or UNREAD: see `dark.sunlit`."""
        return sunlit(rows, self.fitted, self.least)

    def travels(self, rows, key) -> np.ndarray:
        """Return how the valve went in each row: see `dark.travels`."""
        return travels(rows, key, self.fitted)

    @property
    def press_s(self) -> float:
        """For how long the valve is pressed on at an end [s]."""
        return self.rig.valve.press * self.rig.valve.travel_s

    def of(self, rows, seconds, sun, dark, travel, before=None) -> Sums:
        """Return the sums of rows.

        seconds: their lengths [s]; sun: as of `sunlit`; dark: of each row the kind of the
        span without sun in which it lies, one of DARK_KINDS, else 0; travel: as of `travels`;
        before: the state of the row in front of them, None if none is.
        """
        found = Sums(rows=len(rows))
        metered = _Metered(self.least)
        for at in range(0, len(rows), AT_ONCE):
            some = slice(at, at + AT_ONCE)
            metered.add(rows.take(some), seconds[some], sun[some], dark[some])
        metered.into(found)
        found.travel = by_kind(travel, dark)
        self._clamp(found, rows, seconds)
        for place, (_, states, _, channel) in enumerate(SIDES):
            on = among(rows.state, states)
            # Of what is read well above the meter's floor nothing was missed.
            where = np.flatnonzero(on & (rows.stored[channel] <= self.floor_steps[place]))
            flow = stored_si(rows.stored[channel][where], channel)
            found.unseen_L[place] = self.meters.unseen_litres(flow, seconds[where])
            begun = np.count_nonzero(on[1:] & ~on[:-1]) + bool(len(on) and on[0])
            found.runs[place] = begun - bool(len(on) and on[0] and before in states)
        self._rim(found, rows, seconds)
        degrees = rows.stored[ch.WATER_MDEGC]
        degrees = degrees[are_trusted(degrees)]
        found.degC = int(degrees.sum(dtype=np.int64)) * _si_step(ch.WATER_MDEGC)
        found.degC_rows = len(degrees)
        for place in self.places:
            # What is not trusted is the least value that there is.
            found.read[place] = rows.stored[place].max(initial=NOT_TRUSTED) > NOT_TRUSTED
        return found

    def _rim(self, found, rows, seconds):
        """Add what was pumped while the level or a float says that it may spill."""
        there = np.zeros(len(rows), bool)
        if "level" in self.fitted:
            there |= rows.stored[ch.LEVEL_MM] >= self.rim_steps
            found.level_at_rim = bool(there.any())
        for name, place in FULL_FLOATS.items():
            if name in self.fitted:
                there |= (rows.contacts >> (place - ch.COLUMNS) & 1) == 0
                break
        where = np.flatnonzero(there)
        found.at_rim = bool(len(where))
        flow_m3_s = np.nan_to_num(stored_si(rows.stored[ch.FLOW_UP][where], ch.FLOW_UP))
        found.at_rim_m3 = _summed(np.maximum(flow_m3_s, 0.0), seconds[where])

    def _clamp(self, found, rows, seconds):
        """Add the heat in the clamp, from its voltage above its threshold."""
        generator = self.rig.generator
        begins_V, ohm = generator.clamp_voltage_V, generator.clamp_resistance_ohm
        earlier_V = begins_V * (1 - self.rig.model.clamp_frac)
        volts = rows.stored[ch.GENERATOR_MV]
        on = volts > self.clamp_steps
        if "generator_meter" in self.fitted:
            on &= rows.stored[ch.GENERATOR_MA] > 0
        where = np.flatnonzero(on)
        if not len(where):
            return
        volts, length_s = stored_si(volts[where], ch.GENERATOR_MV), seconds[where]
        for place, from_V in enumerate((begins_V, earlier_V)):
            over_V = np.maximum(volts - from_V, 0.0)
            found.clamped_J[place] = float((over_V / ohm * volts * length_s).sum())
        slope = np.where(volts > begins_V, (2 * volts - begins_V) / ohm, 0.0)
        found.clamped_slope_J = float((slope * volts * length_s).sum())


def _rim_m(rig):
    """Return from which reading of the level [m] on water may go over the rim or overflow."""
    values = rig.plant()
    level_m = of_rig.tank(values, "upper.").level_m(values["upper.overflow_volume_m3"])
    return level_m - COVERAGE * rig.sensors.level_uncertainty_m


class _Metered:
    """Sums of what the meters of currents read, of some rows at a time.

    Each sum has one line; rows count in the column of their kind: PLACES, with the pump off
    and on.
    """

    def __init__(self, least):
        """Take what a current reads at most where there is none [its step]."""
        self.least = least
        self._flowed = np.zeros((3 * len(METERED), 2 * len(PLACES)))
        self._charged = np.zeros((len(_OF_CHARGED), 2 * len(PLACES)))
        self._least_A = np.full(2, np.inf)
        self._wheel = np.zeros(3)
        self._lines = np.empty((3, AT_ONCE))

    def add(self, rows, seconds, sun, dark):
        """Add rows; arguments as for `Summing.of`."""
        reads = {channel: rows.stored[channel].astype(float) for channel in _READ}
        fills = among(rows.state, FILL_STATES)
        parted = (fills[1:] != fills[:-1]) | (dark[1:] != dark[:-1])
        first = np.append(0, np.flatnonzero(parted) + 1)
        kinds = 2 * _PLACE[dark[first]] + fills[first]
        self._add_charged(rows, seconds, sun, reads, first, kinds)
        self._add_wheel(rows, seconds, reads)
        squares = {channel: np.square(read, out=read) for channel, read in reads.items()}
        told = {volts: are_trusted(rows.stored[volts]) for _, _, volts, *_ in METERED}
        sums = np.empty((len(self._flowed), len(first)))
        # One room for all meters: it stays in a core's cache.
        lines = volts2, amps2, length_s = self._lines[:, :len(rows)]
        for place, (_, _, volts, amps, sign) in enumerate(METERED):
            np.multiply(seconds, told[volts] & self._flows(rows.stored[amps], sign), out=length_s)
            np.multiply(squares[volts], length_s, out=volts2)
            np.multiply(squares[amps], length_s, out=amps2)
            for line, mine in enumerate(lines, 3 * place):
                np.add.reduceat(mine, first, out=sums[line])
        _by_kind(self._flowed, sums, kinds)

    def _flows(self, amps, sign):
        """Return the mask of those rows in which current flowed that way."""
        return amps > self.least if sign > 0 else (amps < -self.least) & are_trusted(amps)

    def _add_charged(self, rows, seconds, sun, reads, first, kinds):
        """Add rows with sun, in steps of the channels."""
        gave = rows.stored[ch.SUPPLY_MA]
        lit = np.flatnonzero((sun == SUN) & (rows.stored[ch.SUPPLY_MV] > 0) & are_trusted(gave))
        if not len(lit):
            return
        # Of the runs those that have such rows, and where each begins among these.
        begins = np.searchsorted(lit, first)
        some = np.flatnonzero(np.diff(np.append(begins, len(lit))))
        first, kinds = begins[some], kinds[some]
        length_s, amps, panel, supply = (
            one[lit] for one in (seconds, reads[ch.SUPPLY_MA], reads[ch.PANEL_MV],
                                 reads[ch.SUPPLY_MV]))
        panel *= are_trusted(rows.stored[ch.PANEL_MV][lit])
        panel_s, supply_s, per_volt = panel * length_s, supply * length_s, length_s / supply
        sums = np.empty((len(_OF_CHARGED), len(first)))
        for line, one in zip(sums, (
                panel_s, panel_s * amps, supply_s, supply_s * amps, panel * per_volt, per_volt,
                amps * length_s, length_s), strict=True):
            np.add.reduceat(one, first, out=line)
        _by_kind(self._charged, sums, kinds)
        least = np.minimum.reduceat(amps, first)
        for on in range(2):
            self._least_A[on] = least[kinds % 2 == on].min(initial=self._least_A[on])

    def _add_wheel(self, rows, seconds, reads):
        """Add rows of light with the valve open, in steps of the channels."""
        on = (rows.state == RUNNING) & are_trusted(rows.stored[ch.GENERATOR_MV])
        on &= rows.stored[ch.LAMP_MA] > 0
        if on.any():
            length_s = seconds * on
            self._wheel += (_summed(reads[ch.GENERATOR_MV], length_s),
                            _summed(reads[ch.LAMP_MA], length_s), length_s.sum())

    def into(self, found):
        """Put the sums where they belong [SI units]."""
        for place, (_, _, volts, amps, _) in enumerate(METERED):
            steps = np.array([_si_step(volts) ** 2, _si_step(amps) ** 2, 1.0])[:, None]
            sums = self._flowed[3 * place:3 * place + 3] * steps
            found.flowed[place] = _by_pump(Flowed, sums)
            if place in OF_SUPPLY:
                for column, kind in enumerate(PLACES[1:], 1):
                    both = sums[:, 2 * column] + sums[:, 2 * column + 1]
                    found.dark[kind][OF_SUPPLY.index(place)] = Flowed(*both.tolist())
        found.charged = _by_pump(Charged, self._charged * _OF_CHARGED[:, None])
        found.charged.off.least_A, found.charged.on.least_A = (
            self._least_A * _si_step(ch.SUPPLY_MA)).tolist()
        found.wheel = self._wheel * [_si_step(ch.GENERATOR_MV), _si_step(ch.LAMP_MA), 1.0]


def _by_kind(found, sums, kinds):
    """Add sums [lines, runs] to the columns of their kinds."""
    found += np.einsum("lr,rk->lk", sums, kinds[:, None] == np.arange(found.shape[1]))


def _by_pump(made, sums):
    """Return what is made of sums with the pump off, and with it on."""
    return ByPump(made(*sums[:, 0::2].sum(axis=1).tolist()),
                  made(*sums[:, 1::2].sum(axis=1).tolist()))


def _summed(*factors):
    """Return the sum of products.  Not by np.dot, whose threads cost more than they save."""
    return float(np.einsum(",".join("i" * len(factors)), *factors))


# Where in PLACES a kind of span stands; a negative one counts from the end, as numpy does.
_PLACE = np.zeros(256, np.intp)
_PLACE[list(PLACES)] = range(len(PLACES))
_READ = tuple(dict.fromkeys(channel for _, _, *both, _ in METERED for channel in both))


def _si_step(index):
    """Return the step in which a channel is stored [SI unit]."""
    return step(index) * unit_of(str(ch.CHANNELS[index][ch.CH_NAME])).factor


_PANEL_V, _SUPPLY_V, _SUPPLY_A = (
    _si_step(channel) for channel in (ch.PANEL_MV, ch.SUPPLY_MV, ch.SUPPLY_MA))
# What the sums of `Charged`, in its order, are in steps of the channels.
_OF_CHARGED = np.array([_PANEL_V, _PANEL_V * _SUPPLY_A, _SUPPLY_V, _SUPPLY_V * _SUPPLY_A,
                        _PANEL_V / _SUPPLY_V, 1.0 / _SUPPLY_V, _SUPPLY_A, 1.0])
assert NOT_TRUSTED < 0  # so that a reading above any of 0 or more can be trusted
