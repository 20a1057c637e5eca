"""Which faults are left after some readings, and where to put the meter next.

A fault is left if some condition along its line, and some ohms of it, explain every reading and
every sensor within what they may be wrong by: so the true one is never ruled out by a right
reading, and a reading more never brings one back.  It must not ask, nor tell.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from forebay.finding.cases import FINE, NOTHING, Cases
from forebay.finding.faults import Fault
from keeper import channels as ch
from keeper import modes

# A hand meter: 0.5 % and two counts of 10 mV; common practice, no source.
METER_FRAC, METER_V = 0.005, 0.02
# What else a reading may be off by: the sun between two readings, and what a straight piece of
# a curve leaves out; ours.
DRIFT_FRAC, MODEL_V = 0.006, 0.03
# Sensors were read at another moment, and currents follow load and sun.
SENSED_V_FRAC, SENSED_A_FRAC, SENSED_mV, SENSED_mA = 0.03, 0.1, 50.0, 6.0
LEFT = 3.0        # `limit` of a search
OUT = 10 * LEFT   # the deviation of a sensor that cannot be so: it answers, or does not
APART = 2 * LEFT  # predictions further apart than that tell two faults apart
LEAST_FRAC = 0.002  # a reading that tells fewer pairs of faults apart is not asked for
NEARLY = 0.9      # of the best: then the nearer point is asked for
# How gladly a person goes there: the box, within reach, further off, up a ladder.
EFFORT = {"box": 0, "isolator": 1, "stop": 1, "plate": 1, "battery": 1, "valve": 1,
          "generator": 2, "lamps": 2, "pump": 2, "lower": 2, "main": 2, "line end": 2, "deck": 8,
          "panel": 8}
MODE_EFFORT = {"standstill": 0, "turbine": 0, "pump": 1}
CLIMBED = frozenset({"deck", "panel"})


class Reading(NamedTuple):
    """One reading: in which mode, at which point of the cases, and what was read [V]."""

    mode: str
    place: int
    volts: float


class Option(NamedTuple):
    """A reading that may be asked for: which share of pairs of faults it tells apart, what it
    costs."""

    mode: str
    place: int
    tells_frac: float
    effort: int


def meter_sigma_V(volts: np.ndarray) -> np.ndarray:
    """Return by how much a reading may differ from a prediction [V], one sigma."""
    frac = (METER_FRAC**2 + DRIFT_FRAC**2) * volts**2
    return np.sqrt(frac + METER_V**2 + MODEL_V**2)


@dataclass
class Search:
    """A search that goes on: what was read, what was left out.

    left_out: (mode, place) that is not asked for again.  live: what the rig's sensors read, by
    channel, in the symptom's mode or that of its `state`.  limit: deviations of one reading, in
    sigma, up to which a fault is left.
    """

    cases: Cases
    live: Mapping[str, int] = field(default_factory=dict)
    readings: list[Reading] = field(default_factory=list)
    left_out: set[tuple[str, int]] = field(default_factory=set)
    limit: float = LEFT

    def __post_init__(self):
        count = len(self.cases.faults)
        self.fits = np.ones(count, dtype=bool)
        self.misfit = np.zeros(count)
        self._fell = np.zeros(count, dtype=int)  # with how many readings it was ruled out
        self._ohms: list[np.ndarray] = [np.zeros(1, dtype=int)] * count
        self._at: list[dict[tuple[str, str], np.ndarray]] = [{} for _ in range(count)]
        self._domains = [_domain(self.cases.build.netlist.most.get(point.net, ""))
                         for point in self.cases.points]
        self._judge()

    def read(self, reading: Reading) -> None:
        """Take a reading."""
        self.readings.append(reading)
        self._judge()

    def leave_out(self, mode: str, place: int) -> None:
        """Do not ask for a reading again."""
        self.left_out.add((mode, place))

    @property
    def left(self) -> list[int]:
        """The places of the faults that are left, likeliest first."""
        order = np.argsort(self.misfit, kind="stable")
        return [int(one) for one in order if self.fits[one]]

    @property
    def nearest(self) -> list[int]:
        """The places of all faults, those first that were ruled out last."""
        return [int(one) for one in np.lexsort((self.misfit, -self._fell))]

    def fault(self, place: int) -> Fault:
        """Return a fault by its place."""
        return self.cases.faults[place]

    @property
    def nothing_is_wrong(self) -> bool:
        """Whether all readings are those of a whole rig, and of nothing else."""
        return [self.fault(one) for one in self.left] == [NOTHING]

    def _judge(self) -> None:
        """Work out which faults still fit, how badly each does, and its likeliest conditions."""
        for fault in np.flatnonzero(self.fits):
            self._judge_one(int(fault))
            self._fell[fault] = len(self.readings)

    def _judge_one(self, fault: int) -> None:
        ohms = next(iter(self.cases.reads.values()))[fault].shape[0]
        misfit, fits, best = np.zeros(ohms), np.ones(ohms, dtype=bool), {}
        for group, off in self._off(fault).items():
            squares = (off**2).sum(axis=2)
            misfit += squares.min(axis=1)
            fits &= (np.abs(off).max(axis=2) <= self.limit).any(axis=1)
            best[group] = squares.argmin(axis=1)
        allowed = np.flatnonzero(fits) if fits.any() else np.arange(ohms)
        self.fits[fault] = fits.any()
        self.misfit[fault] = _averaged(misfit[allowed], ohms)
        self._ohms[fault] = np.unique(allowed[[0, len(allowed) // 2, -1]])
        self._at[fault] = best

    def _off(self, fault: int) -> dict[tuple[str, str], np.ndarray]:
        """Return deviations in sigma by mode and domain: (ohm, along, reading)."""
        rows: dict[tuple[str, str], list[np.ndarray]] = {}
        for reading in self.readings:
            shown = self.cases.reads[reading.mode][fault][:, :, reading.place]
            rows.setdefault((reading.mode, self._domains[reading.place]), []).append(
                (reading.volts - shown) / meter_sigma_V(shown))
        mode = _mode_of(self.live, self.cases)
        for channel, by_fault in self.cases.sensed.get(mode, {}).items():
            off = _sensed_off(channel, self.live.get(channel), by_fault[fault])
            if off is not None:
                rows.setdefault(("sensed", _domain(channel)), []).append(off)
        return {group: np.stack(found, axis=2) for group, found in rows.items()}

    def likely_V(self, fault: int, mode: str) -> np.ndarray:
        """Return what a fault would show at each point [V], in the conditions that fit it best.

        One row for each of the ohms that it may have: the least, middle and most of them.
        """
        rows = self._ohms[fault]
        shown, points = self.cases.reads[mode][fault], np.arange(len(self.cases.points))
        along = np.full((len(rows), len(points)), FINE // 2)
        for (of, domain), best in self._at[fault].items():
            if of == mode:
                along[:, [one == domain for one in self._domains]] = best[rows][:, None]
        return shown[rows[:, None], along, points]

    def options(self, *, left_out: bool = False) -> list[Option]:
        """Return the readings that tell something, best first; left_out: those too."""
        left = self.left
        if len(left) < 2:
            return []
        weights = np.exp(-0.5 * (self.misfit[left] - self.misfit[left].min()))
        asked = {(one.mode, one.place) for one in self.readings}
        asked |= set() if left_out else self.left_out
        found = []
        for mode in self.cases.reads:
            tells = told_apart_frac([self.likely_V(one, mode) for one in left], weights)
            found += [Option(mode, place, float(tells[place]),
                             EFFORT.get(where, 2) + MODE_EFFORT[mode])
                      for place, where in enumerate(self.cases.places)
                      if (mode, place) not in asked and tells[place] >= LEAST_FRAC]
        return sorted(found, key=lambda one: -one.tells_frac)

    def next(self) -> Option | None:
        """Return the reading to ask for: of the best ones the nearest; None at the end."""
        options = self.options()
        if not options:
            return None
        good = [one for one in options if one.tells_frac >= NEARLY * options[0].tells_frac]
        return min(good, key=lambda one: (one.effort, -one.tells_frac))


def _averaged(misfit: np.ndarray, ohms: int) -> float:
    """Return a misfit over all ohms that a fault may have: -2 ln of the mean of exp(-misfit / 2).

    Else a bad joint, which has ohms to choose from, would pass before a plain open one.
    misfit: of the ohms that fit; ohms: how many there are.
    """
    least = misfit.min()
    return float(least - 2 * np.log(np.exp(-0.5 * (misfit - least)).sum() / ohms))


def told_apart_frac(volts: list[np.ndarray], weights: np.ndarray) -> np.ndarray:
    """Return for each point how likely a reading there tells two of the faults apart.

    Two are drawn by their weights; they are told apart if their predictions lie further apart
    than both readings may be wrong.  volts: of each fault, (ohm, point).  To ask where this is
    highest halves what is left, and at 0 no reading tells any two apart.
    """
    share = np.concatenate([np.full(len(one), weight / len(one))
                            for one, weight in zip(volts, weights / weights.sum(), strict=True)])
    of = np.repeat(np.arange(len(volts)), [len(one) for one in volts])
    shown = np.concatenate(volts)
    pairs = np.outer(share, share) * (of[:, None] != of)
    apart = (np.abs(shown[:, None] - shown) > APART * meter_sigma_V(
        np.minimum(np.abs(shown[:, None]), np.abs(shown))))
    return np.einsum("ij,ijp->p", pairs, apart)


def _domain(name: str) -> str:
    """Return whose volts a net or channel follows, of the sources that change by themselves."""
    for domain, begins in (("sun", ("panel", "pump")), ("battery", ("supply",)),
                           ("water", ("generator", "lamp"))):
        if name.startswith(begins):
            return domain
    return "board"


def _mode_of(live: Mapping[str, int], cases: Cases) -> str:
    if "state" not in live:
        return cases.symptom.mode
    mode = dict(enumerate(modes.STATES)).get(live["state"], ("", -1))[1]
    return {modes.STANDSTILL_MODE: "standstill", modes.PUMP_MODE: "pump",
            modes.TURBINE_MODE: "turbine"}.get(mode, "")


def _sensed_off(channel: str, read: int | None, shown: np.ndarray) -> np.ndarray | None:
    """Return the deviation of a sensor in sigma; None where nothing is known of it."""
    if read is None:
        return None
    if read == ch.INVALID:  # so is what a fault shows with which none answers, and no other
        return np.where(np.isnan(shown), 0.0, OUT)
    frac, least = ((SENSED_V_FRAC, SENSED_mV) if channel.endswith("mV")
                   else (SENSED_A_FRAC, SENSED_mA))
    off = (read - shown) / np.sqrt((frac * shown) ** 2 + least**2)
    # A fault with which no monitor answers is not there if one does.
    return np.where(np.isnan(shown), OUT, off)
