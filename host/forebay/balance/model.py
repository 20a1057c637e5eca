"""What a balance says: the result types, and their form as JSON."""

from dataclasses import dataclass, field
from typing import Any

from forebay.balance.blame import Blame
from forebay.balance.derived import DerivedFigures
from forebay.balance.intervals import half_95
from forebay.balance.leaks import Leak
from forebay.balance.parts import Telling
from forebay.balance.ways import BOUNDS, MODEL, Told
from forebay.shelf.local import maybe_iso

# key, plain words; the order is that of every table.
ENERGIES = (
    ("panel", "out of the panel"),
    ("pump", "into the pump"),
    ("charge", "into the charger, at the panel"),
    ("stored", "stored as water, above the nozzle"),
    ("released", "released as water"),
    ("generator", "out of the generator"),
    ("lamps", "into the lamps"),
    ("clamp", "into the clamp"),
    ("board_load", "used by the board"),
    ("supply_in", "into the buffer battery"),
    ("supply_out", "out of the buffer battery"),
)
STEPS = (
    ("panel_to_pump", "panel to pump"),
    ("wire_to_water", "wire to water: stored of what the pump took"),
    ("water_to_wire", "water to wire: generator of what was released"),
    ("generator_to_lamps", "generator to lamps"),
    ("round_trip", "round trip: wire to water to wire"),
)
NODES = (
    ("panel_node", "panel less pump and charger"),
    ("generator_node", "generator less lamps and clamp"),
)
WATER = (
    ("up", "pumped up"),
    ("down", "let down"),
    ("gained", "gained by the upper tank"),
    ("fill_residual", "filling: pumped up less gained"),
    ("discharge_residual", "light: lost by the tank less let down"),
    ("rest_change", "level change at rest and while the board was off"),
)


@dataclass
class Balance:
    """The balance of one rig over a period.

    energies, nodes [J], water [L], steps [-]: Measured by the keys of the
    tables in this module, None where not known, and of a step where its divisor
    cannot be told from 0; derived: what follows from them.  told: how each of them is
    known; telling: the part that would tell the most, None where nothing lacks.
    stretches_s: (begin, end) [s since 1970 UTC] of each stretch that the figures cover,
    None = not known; covered_s: their length by the board's own count [s]; from_rows_s:
    how much of it no totals cover [s].  leak: whether the upper tank keeps its
    water; blame: which meter is off.  pump_sun_down_h: how much of pump_h the sun was
    down [h], None where a meter of the panel tells its sun, or no time is known.  notes:
    what was assumed, bridged or left out, one sentence each; time_bound_s: most by which
    a time in it can be wrong [s], None = not bounded.
    """

    rig_id: int
    stretches_s: list[tuple[float | None, float | None]]
    covered_s: float
    from_rows_s: float
    energies: dict[str, Any]
    nodes: dict[str, Any]
    water: dict[str, Any]
    steps: dict[str, Any]
    told: dict[str, Told]
    light_h: float
    pump_h: float
    trips: int
    boots: int
    rows: int
    gaps: int
    gap_s: float
    notes: list[str] = field(default_factory=list)
    time_bound_s: float | None = None
    telling: Telling | None = None
    derived: DerivedFigures | None = None
    leak: Leak | None = None
    blame: Blame | None = None
    pump_sun_down_h: float | None = None

    @property
    def has_models(self) -> bool:
        """Whether any figure comes from no meter."""
        return any(one.kind in (MODEL, BOUNDS) for one in self.told.values())

    @property
    def begin_utc_s(self) -> float | None:
        """Begin of the first stretch [s since 1970 UTC], None = not known."""
        known = [begin for begin, _ in self.stretches_s if begin is not None]
        return min(known, default=None)

    @property
    def end_utc_s(self) -> float | None:
        """End of the last stretch [s since 1970 UTC], None = not known."""
        return max([end for _, end in self.stretches_s if end is not None], default=None)

    def as_json(self) -> dict:
        """Return the balance with the units in its keys, as documented in docs/json.md."""
        return {
            "rig_id": self.rig_id,
            "begin_utc": maybe_iso(self.begin_utc_s),
            "end_utc": maybe_iso(self.end_utc_s),
            "largest_bound_s": None if self.time_bound_s is None else _digits(self.time_bound_s),
            "covered": [{"begin_utc": maybe_iso(begin), "end_utc": maybe_iso(end)}
                        for begin, end in self.stretches_s],
            "covered_s": round(self.covered_s, 1),
            "from_rows_s": round(self.from_rows_s, 1),
            "energy_J": self._figures(self.energies),
            "node_residual_J": self._figures(self.nodes),
            "water_L": self._figures(self.water),
            "step_efficiency_frac": self._figures(self.steps),
            **self._derived(),
            "would_tell_most": self.telling and {
                "instrument": self.telling.instrument, "effort": self.telling.effort,
                "figures": list(self.telling.known)},
            "leak": self.leak and {
                "kind": self.leak.kind, "words": self.leak.words,
                "lost_L": _plain(self.leak.litres), "lost_L_h": _plain(self.leak.litres_h),
                "rest_h": round(self.leak.rest_h, 4)},
            "meter_at_fault": self.blame and self.blame.as_json(),
            "light_h": round(self.light_h, 4),
            "pump_h": round(self.pump_h, 4),
            "pump_sun_down_h": None if self.pump_sun_down_h is None else round(
                self.pump_sun_down_h, 4),
            "trips": self.trips,
            "boots": self.boots,
            "rows": self.rows,
            "gaps_bridged_by_totals": self.gaps,
            "gaps_s": round(self.gap_s, 1),
            "notes": self.notes,
        }

    def _figures(self, values, told=None):
        told = self.told if told is None else told
        return {key: _figure(key, value, told[key]) for key, value in values.items()}

    def _derived(self):
        if self.derived is None:
            return {}
        return {"specific_energy_J_L": self._figures(self.derived.specific, self.derived.told),
                "yield_h": self._figures(self.derived.yields, self.derived.told),
                "loss_J": self._figures(self.derived.losses, self.derived.told),
                "spill_L": self._figures(self.derived.spill, self.derived.told)}


def _figure(key, value, told):
    """Return a figure as JSON: value and uncertainty, or null, and the way to it."""
    way = {"way": told.kind, "by": told.by}
    if told.kind == BOUNDS:
        low, high = (None if one is None else _digits(one) for one in (told.low, told.high))
        return {"value": None, "u": None, "low": low, "high": high, **way}
    if value is None:
        return {"value": None, "u": None, **way}
    found = {"value": _digits(value.value), "u": _digits(value.u),
             "half_95": _digits(half_95(value)), **way}
    if key.endswith(("residual", "node")):
        normalised = value.normalised
        found["normalised"] = None if normalised is None else _digits(normalised)
    return found


def _plain(value):
    """Return a figure that has no way of its own: value and uncertainty, or null."""
    return value and {"value": _digits(value.value), "u": _digits(value.u)}


def _digits(number):
    return float(f"{number:.6g}")
