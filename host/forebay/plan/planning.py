"""A plan of one rig: every part of it, from one set of days, tables and spreads."""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from forebay.plan import (
    filling,
    lifting,
    light,
    limits,
    mounting,
    sizing,
    skies,
    spread,
    store,
    supply,
)
from forebay.plan.answers import COVERING, Column, Part, Table
from forebay.plan.lifting import Sun
from forebay.plan.limits import Nights
from forebay.plan.sizing import Wish
from forebay.rig import Rig
from forebay.rig.doubt import doubt

MOST_MATTERS = 6           # figures of the rig that are named
FEW_MONTHS = (1, 4, 7, 10)  # on whose days the spread is taken
HOUR_S = 3600.0


class Plan(NamedTuple):
    """What a plan says: parts in their order, and what it rests on."""

    rig: Rig
    parts: Sequence[Part]
    notes: Sequence[str]


class Spreads(NamedTuple):
    """Relative covering spreads by figure, and of a night's light as a whole [-]."""

    of: dict[str, float]
    night_frac: float
    parts: Sequence[spread.Spread]


def setpoint_W(values: Mapping[str, Any]) -> float:
    """Return the light that is planned for [W]: the night's, or the dimmest step."""
    return values["night.setpoint_W"] or min(values["lamps.steps_W"])


def nights_of(rig: Rig, source: str | None = None, clearness: float = skies.CLEARNESS,
              station: str | None = None,
              is_broken: bool = False) -> tuple[Nights, Sequence[str]]:
    """Return (the days that averages are taken over, with their nights, what is said of them).

    source: a file of sun, None = modelled days of a year of that mean clearness [-]; is_broken:
    these in turns of sun and cloud.
    """
    found = (skies.of_file(rig, source, station) if source
             else skies.spread_out(rig, clearness, is_broken))
    told = [] if source else [f"Averages are over a year of mean clearness {clearness:.2f} (share"
                              " of the light above the air), stated, not measured."]
    return Nights(found.sun, found.night_s, found.weight), [*found.notes, *told]


def plan(rig: Rig, source: str | None = None, clearness: float = skies.CLEARNESS,
         station: str | None = None) -> Plan:
    """Return the plan of a rig.

    source: a file of sun, None = modelled days; clearness: the modelled year's mean [-];
    station: of the file, as for `forebay.sun.load`.  Raises InputError for what a user can
    mend.
    """
    values = rig.plant()
    month_days = skies.by_month(rig)
    nights, told = nights_of(rig, source, clearness, station)
    made = lifting.machine(values)
    spreads = _spreads(rig, values, clearness, source is None)
    done, endless = _lifted(values, made, month_days, spreads.of)
    found = light.held(values, setpoint_W(values))
    full_Wh = found.power_W * found.held_s / HOUR_S if found else 0.0
    parts = [
        store.part(values), filling.part(values, made, month_days, done, endless, spreads.of),
        light.part(values, spreads.of), _nights(values, month_days, done),
        supply.part(values, float(month_days.night_s.max()) / HOUR_S, full_Wh),
        mounting.part(values), limits.part(values, nights, spreads.night_frac),
        _known(rig, spreads)]
    return Plan(rig, parts, list(dict.fromkeys([*month_days.notes, *told])))


def sized(rig: Rig, wish: Wish, source: str | None = None, clearness: float = skies.CLEARNESS,
          station: str | None = None) -> Plan:
    """Return what it takes to keep a wish, beginning from a rig; as `plan` otherwise."""
    values = rig.plant()
    nights, told = nights_of(rig, source, clearness, station, is_broken=True)
    spreads = _spreads(rig, values, clearness, source is None)
    return Plan(rig, [sizing.part(values, wish, nights, spreads.of["held"], spreads.of["usual"])],
                told)


def _lifted(values, made, days, spread_of):
    """Return what was lifted on each day, and would be if the tanks had no end.

    Each in all the ways in which the day may go: [way, day].
    """
    frac = np.array([spread_of[sky.key] for sky in skies.SKIES])[days.sky]
    both = Sun(np.concatenate([days.sun.poa_W_m2] * 2), np.concatenate([days.sun.cell_degC] * 2),
               days.sun.step_s)
    count = len(days.dates)
    found = lifting.march(values, [made], both, np.repeat([False, True], count),
                          chance=spread.chance(values, np.tile(frac, 2)))
    return found.of(slice(None), slice(0, count)), found.of(slice(None), slice(count, None))


def _spreads(rig, values, clearness, is_modelled) -> Spreads:
    """Return the spreads, taken on days of four months from dull to clear."""
    days = skies.spread_out(rig, clearness)
    few = np.isin(days.months, FEW_MONTHS)
    shares = np.tile(skies.clear_shares(clearness), len(skies.MEAN_DAYS))[few]
    sun = Sun(days.sun.poa_W_m2[few], days.sun.cell_degC[few], days.sun.step_s)
    edges = [one.clear_frac for one in skies.SKIES]
    nearest = np.abs(shares[:, None] - np.array(edges)).argmin(axis=1)
    kinds = [(one.key, nearest == place) for place, one in enumerate(skies.SKIES)]
    kinds.append(("usual", nearest >= 0))
    doubts = doubt(rig)
    lifted = spread.of_lifting(values, doubts, sun, kinds, is_modelled)
    power_W = setpoint_W(values)
    lit = spread.of_light(values, doubts, power_W)
    of = {**lifted.covering(), **lit.covering(),
          "tank": COVERING * spread.of_tank(values, doubts)}
    return Spreads(of, float(np.hypot(of["usual"], of["held"])), (lifted, lit))


def _nights(values, days, done) -> Part:
    """How long the night's light lasts, and which lasts till dawn, by month and sky."""
    power_W = setpoint_W(values)
    found = light.held(values, power_W)
    rows = []
    for month in sorted(set(days.months)):
        here = days.months == month
        night_s = float(days.night_s[here].mean())
        waters = [float(done.lifted_m3[0, here & (days.sky == place)].mean())
                  for place in range(len(skies.SKIES))]
        lasts = [min(night_s, water / found.flow_m3_s) if found else None for water in waters]
        rows.append((filling.month_name(month), night_s, *lasts,
                     light.lasting_W(values, waters[0], night_s)))
    return Part("dawn", "The night", (), [Table(
        "nights", f"How long light of {power_W:.3g} W lasts, by the day before", (
            Column("month", "", "text"), Column("night_s", "night", "time"),
            *(Column(f"{one.key}_s", one.name, "time") for one in skies.SKIES),
            Column("till_dawn_W", "till dawn", "power")), rows,
        "from an empty tank in the morning; till dawn: the light that lasts the whole night after"
        f" a clear day, - = none of {values['night.useful_W']:.3g} W (night.useful) or more")])


def _known(rig, spreads) -> Part:
    """How many figures are assumed, and which matter most for the answers."""
    rows = [(name, "assumed" if _place(name) in rig.assumed else "stated", output, abs(change))
            for name, output, change in spread.matters(spreads.parts, MOST_MATTERS)]
    count = len(rig.assumed)
    says = [f"{count} figures of this rig are assumed, not measured." if count
            else "No figure of this rig is marked as assumed."]
    return Part("known", "How well it is known", (), [Table(
        "matters", "Figures that matter most: what one standard uncertainty changes", (
            Column("figure", "figure", "text"), Column("known", "", "text"),
            Column("answer", "changes", "text"), Column("change_frac", "by", "ratio")), rows,
        "the page docs/rig.md has a recipe for measuring each")], says)


def _place(name: str) -> Any:
    from forebay.rig.schema import NAME_OF

    return NAME_OF[name]
