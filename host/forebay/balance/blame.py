"""Which one meter's calibration, if any, explains what is left of the closures.

Least squares over the errors that the closures share (GUM 5.2, and its annex H.3 for the
fit): each closure says how it moves with one standard uncertainty of each meter.  A meter
is suspected where one error of its own, and all others within what is stated, explain the
closures far better than all within it.  Two meters that explain them alike are named
together.  Knows nothing of closures but their parts.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from forebay.balance.instruments import tag
from forebay.balance.measured import Measured
from forebay.words import measured as words
from keeper import channels as ch

NONE, NAMED, GROUP, UNKNOWN = "none", "named", "group", "unknown"
SURE_U = 3.0         # a closure that far off is no chance: 0.3 % of a normal distribution
# One meter is told from another where it is 20 times as likely: twice the logarithm.
LEAD = 2.0 * math.log(20.0)
ONE_SIDED = 2.748    # passed by 0.3 % of a normal distribution, to one side
# Closures that rest on the rig's description beside its meters.
DESCRIBED = frozenset(("wheel", "board", "full_float", "empty_float"))
UNSEEN_U = 10.0      # a meter that may be off by so much unseen is one that nothing checks
FRACS = (("voltage_frac", (ch.PANEL_MV, ch.GENERATOR_MV, ch.SUPPLY_MV)),
         ("current_frac", (ch.PANEL_MA, ch.PUMP_MA, ch.GENERATOR_MA, ch.LAMP_MA, ch.SUPPLY_MA)),
         ("flow_frac", (ch.FLOW_UP, ch.FLOW_DOWN)))
UNEXPLAINED = "No meter stands out: no error of one alone explains what is left over."
FLOOR, RIM = (f"{tag(ch.LEVEL_MM)} {end}" for end in ("floor", "rim"))
MM_PER_M = 1000.0


@dataclass(frozen=True)
class Suspect:
    """A meter that would explain the closures.

    tag: of the instrument; source: which of its errors; off: its error, as a share of what it
    reads [-] or, of the level, at floor or rim [m]; sigma: how far off the closures are for
    it, in standard uncertainties [-].
    """

    tag: str
    source: str
    off: Measured
    sigma: float

    @property
    def is_level(self) -> bool:
        """Whether its error is a length instead of a share."""
        return self.source in (FLOOR, RIM)

    @property
    def factor(self) -> Measured | None:
        """By what its readings are to be multiplied [-]; None for a level."""
        return None if self.is_level else 1.0 - self.off

    @property
    def plain(self) -> str:
        """Return its tag and what it reads, and what would cure it."""
        name = next(one.plain for one in words.CHANNELS.values() if one.tag == self.tag)
        if self.factor is None:
            end = self.source.rsplit(" ", 1)[1]
            return (f"{self.tag} ({name}), which reads {MM_PER_M * self.off.value:+.0f} +-"
                    f" {2 * MM_PER_M * self.off.u:.0f} mm off at the {end}")
        return (f"{self.tag} ({name}), whose readings times {self.factor.value:.3f} +-"
                f" {2 * self.factor.u:.3f} would fit")


@dataclass(frozen=True)
class Blame:
    """The finding.  kind: as above; suspects: the likeliest first; closures: what is left of
    each, by name; unchecked: tags of meters that nothing here checks.
    """

    kind: str
    suspects: tuple[Suspect, ...]
    closures: Mapping[str, Measured]
    unchecked: tuple[str, ...]

    @property
    def is_by_chance(self) -> bool:
        """Whether no closure is further off than chance alone leaves it."""
        return all(abs(one.normalised or 0.0) <= SURE_U for one in self.closures.values())

    @property
    def words(self) -> str:
        """The finding for a person."""
        if self.kind == UNKNOWN:
            return "No meter of this rig is checked by another."
        if self.kind == NONE and self.is_by_chance:
            return "No meter stands out: what is left over is no more than chance makes of it."
        if self.kind == NONE:
            return UNEXPLAINED
        if self.kind == NAMED:
            return f"One meter explains what is left over: {self.suspects[0].plain}."
        return ("What is left over is more than is stated of the meters. Cannot tell which is"
                f" off: {'; or '.join(one.plain for one in self.suspects)}.")

    def as_json(self) -> dict:
        """Return it as documented in docs/json.md."""
        def pair(one):
            return one and {"value": float(f"{one.value:.6g}"), "u": float(f"{one.u:.6g}")}

        return {
            "kind": self.kind, "words": self.words,
            "suspects": [{"tag": one.tag, "calibration_factor": pair(one.factor),
                          "off_m": pair(one.off) if one.is_level else None,
                          "at": one.source.rsplit(" ", 1)[1] if one.is_level else None,
                          "sigma": round(one.sigma, 2)} for one in self.suspects],
            "closures_u": {name: round(one.normalised or 0.0, 2)
                           for name, one in self.closures.items()},
            "unchecked": list(self.unchecked),
        }


def sources_of(sensors) -> dict[str, tuple[str, float]]:
    """Return (tag, standard uncertainty [- or m]) of each meter's error by its source."""
    found = {}
    for name, channels in FRACS:
        for channel in channels:
            found[tag(channel)] = (tag(channel), getattr(sensors, name))
    for end in (FLOOR, RIM):
        found[end] = (tag(ch.LEVEL_MM), sensors.level_uncertainty_m)
    return found


def blame_of(closures: Mapping[str, Measured], sensors) -> Blame:
    """Return which meter the closures blame.  sensors: what is stated of the meters."""
    known = sources_of(sensors)
    moved = _moved(closures, known)
    if not moved:
        return Blame(UNKNOWN, (), closures, ())
    found, unchecked, odd = _suspects(closures, moved, known)
    if odd and set(closures) - DESCRIBED:
        # Something else is off, and it may be the description: what rests on it has no say.
        metered = {name: one for name, one in closures.items() if name not in DESCRIBED}
        found, _, odd = _suspects(metered, _moved(metered, known), known)
    best = max((abs(one.sigma) for one in found), default=0.0)
    alike = sorted([one for one in found if best**2 - one.sigma**2 < LEAD],
                   key=lambda one: -abs(one.sigma))
    alike = [one for place, one in enumerate(alike)
             if one.tag not in [other.tag for other in alike[:place]]]
    checked = {one.tag for one in found}
    silent = tuple(dict.fromkeys(one for one in unchecked if one not in checked))
    kind = NONE if best < SURE_U else NAMED if len(alike) == 1 else GROUP
    return Blame(kind, () if kind == NONE else tuple(alike), closures, silent)


def _moved(closures, known):
    """Return the sources that move any closure."""
    return [one for one in known if any(one in left.parts for left in closures.values())]


def _suspects(closures, moved, known):
    """Return (suspects, tags of what nothing checks, whether the best leaves too much)."""
    left, spread, columns = _matrices(closures, moved)
    weight = np.linalg.inv(spread)
    found, unchecked = [], []
    for source, column in zip(moved, columns, strict=True):
        seen = float(column @ weight @ column)
        if seen * UNSEEN_U**2 < SURE_U**2:
            unchecked.append(known[source][0])
            continue
        found.append(_suspect(source, column, left, spread, known[source]))
    best = max((one.sigma**2 for one in found), default=0.0)
    rest, free = float(left @ weight @ left) - best, len(left) - 1
    return found, unchecked, free > 0 and rest > _chi_square(free)


def _chi_square(free):
    """Return what a chi-square of so many degrees of freedom passes as seldom as 3 sigma.

    Wilson and Hilferty's cube (1931), from memory: a few per cent for few degrees.
    """
    share = 2.0 / (9.0 * free)
    return free * (1.0 - share + ONE_SIDED * math.sqrt(share)) ** 3


def _matrices(closures, moved):
    """Return (what is left, its covariance, one column a source), each over its own u."""
    names = list(closures)
    u = np.array([closures[name].u for name in names])
    left = np.array([closures[name].value for name in names]) / u
    sources = sorted({source for one in closures.values() for source in one.parts}, key=str)
    parts = np.array([[closures[name].parts.get(source, 0.0) for source in sources]
                      for name in names]) / u[:, None]
    columns = [parts[:, sources.index(one)] for one in moved]
    # What is exact in one closure alone may make it singular; so much is no digit of it.
    return left, parts @ parts.T + 1e-9 * np.eye(len(names)), columns


def _suspect(source, column, left, spread, known):
    """Return a source as a suspect: its whole error by least squares, all others as stated."""
    others = np.linalg.inv(spread - np.outer(column, column) * (1 - 1e-9))
    seen = float(column @ others @ column)
    error_u = float(column @ others @ left) / seen
    size = known[1]
    sigma = error_u / math.sqrt(1.0 + 1.0 / seen)
    off = Measured(error_u * size).with_noise(size / math.sqrt(seen))
    return Suspect(known[0], source, off, sigma)
