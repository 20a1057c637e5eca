"""A plan of one rig: every part of it, from one set of days, tables and spreads."""

import itertools
from collections.abc import Sequence
from typing import NamedTuple

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
from forebay.plan.moving import Spread
from forebay.plan.sizing import Proposal, Wish
from forebay.rig import Rig, recipes
from forebay.rig.doubt import doubt
from forebay.rig.schema import NAME_OF

MOST_MATTERS = 6           # figures of the rig that are named
MOST_RECIPES = 3           # of which the way to find them is told
FEW_MONTHS = (1, 4, 7, 10)  # on whose days the spread is taken
HOUR_S = 3600.0
SAID = ("+-, and the range in brackets: two standard uncertainties, within which it lies about"
        " nineteen times of twenty, by what is not known of the rig and of the model.")
FULL_FRAC = 0.99   # of what lies between the floats: the tank counts as full


class Plan(NamedTuple):
    """What a plan says: parts in their order, and what it rests on."""

    rig: Rig
    parts: Sequence[Part]
    notes: Sequence[str]
    proposal: Proposal | None = None   # what a wish takes, where one was asked


class Spreads(NamedTuple):
    """Relative covering spreads by output [-], and the spread of a mean night's light."""

    of: dict[str, float]
    night: Spread
    doubts: dict[str, float]

    def of_wish(self) -> sizing.Doubts:
        """Return what a wish is sized with."""
        return sizing.Doubts(self.of["light"], self.of["held"], self.of["usual"])


def nights_of(rig: Rig, source: str | None = None, clearness: float = skies.CLEARNESS,
              station: str | None = None,
              is_broken: bool = False) -> tuple[Nights, np.ndarray, Sequence[str]]:
    """Return (the days that averages are taken over, the month of each, what is said of them).

    source: a file of sun, None = modelled days of a year of that mean clearness [-]; is_broken:
    these in turns of sun and cloud.
    """
    if source is not None:
        found, told = skies.of_file(rig, source, station), []
    else:
        found = skies.spread_out(rig, clearness, is_broken)
        told = [f"Averages are over a year of mean clearness {clearness:.2f} (share of the light"
                " above the air), stated, not measured."]
    return Nights(found.sun, found.night_s, found.weight), found.months, [*found.notes, *told]


def plan(rig: Rig, source: str | None = None, clearness: float = skies.CLEARNESS,
         station: str | None = None) -> Plan:
    """Return the plan of a rig.

    source: a file of sun, None = modelled days; clearness: the modelled year's mean [-];
    station: of the file, as for `forebay.sun.load`.  Raises InputError for what a user can
    mend.
    """
    values = rig.plant()
    month_days = skies.by_month(rig)
    nights, months, told = nights_of(rig, source, clearness, station)
    made = lifting.machine(values)
    spreads = _spreads(rig, values, clearness, source is None)
    done, endless = _lifted(values, made, month_days, spreads.of)
    found = light.held(values, light.setpoint_W(values))
    full_Wh = found.power_W * found.held_s / HOUR_S if found else 0.0
    parts = [
        store.part(values, spreads.doubts), filling.part(
            values, made, month_days, done, endless, spreads.of),
        light.part(values, spreads.of), _nights(values, month_days, done, _usual(
            values, made, nights, months, "" if source is None else source)),
        supply.part(values, float(month_days.night_s.max()) / HOUR_S, full_Wh),
        mounting.part(values), limits.part(values, nights, spreads.doubts, spreads.night),
        _known(rig, spreads)]
    return Plan(rig, _placed(rig, parts), list(dict.fromkeys([SAID, *month_days.notes, *told])))


def _placed(rig, parts):
    """Say beside the months that they are those of another place, if they may be."""
    guessed = [place for place in ("site.latitude", "panel.tilt", "panel.azimuth")
               if place in rig.assumed]
    if not guessed:
        return parts
    warning = (f"{', '.join(guessed)} assumed: the months and hours below are those of"
               f" {rig.site.latitude_deg:.0f} degrees of latitude and such a panel, and no spread"
               " covers that. State them first.")
    return [part._replace(warns=[*part.warns, warning]) if part.key == "filling" else part
            for part in parts]


def sized(rig: Rig, wish: Wish, source: str | None = None, clearness: float = skies.CLEARNESS,
          station: str | None = None) -> Plan:
    """Return what it takes to keep a wish, beginning from a rig; as `plan` otherwise."""
    values = rig.plant()
    nights, _, told = nights_of(rig, source, clearness, station, is_broken=True)
    spreads = _spreads(rig, values, clearness, source is None)
    part, found = sizing.part(values, wish, nights, spreads.of_wish(), source is None)
    return Plan(rig, [part], told, found)


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
    power_W, night_s, doubts = light.setpoint_W(values), days.night_s[few], doubt(rig)
    lifted_m3 = lifting.march(values, [lifting.rough(values)], sun, True).lifted_m3[0]

    def night_J(changed, lifted_m3=lifted_m3):
        return float(limits.nightly_J(changed, lifted_m3, night_s, power_W).mean())

    lifted = spread.of_lifting(values, doubts, sun, [
        *((one.key, nearest == place) for place, one in enumerate(skies.SKIES)),
        ("usual", nearest >= 0), ("night", lambda one: night_J(values, one))], is_modelled)
    lit = spread.of_light(values, doubts, power_W, night_J)
    of = {**lifted.covering(spread.MOST_FRAC), **lit.covering(),
          "tank": COVERING * spread.of_tank(values, doubts)}
    for brighter, duller in itertools.pairwise(skies.SKIES):
        # Of a day on which nothing is lifted nothing follows: it is no surer than a better one.
        of[duller.key] = max(of[duller.key], of[brighter.key])
    return Spreads(of, spread.together(lifted, lit, "night"), doubts)


def _usual(values, made, nights, months, source) -> Table:
    """How the days of a year go, month by month: the file's own, or the modelled ones."""
    found = lifting.march(values, [made], nights.sun).of(0)
    usable_m3, power_W = light.usable_m3(values), light.setpoint_W(values)
    lit_s = limits.nightly_J(values, found.lifted_m3, nights.night_s, power_W) / power_W
    rows = []
    for month in sorted(set(months)):
        here = months == month
        low, middle, high = np.quantile(found.lifted_m3[here], (0.1, 0.5, 0.9))
        rows.append((filling.month_name(int(month)), int(here.sum()), float(low), float(middle),
                     float(high), float(np.mean(found.lifted_m3[here] >= FULL_FRAC * usable_m3)),
                     float(lit_s[here].mean())))
    return Table("days", f"Days of {source}" if source else "Days of a modelled year", (
        Column("month", "", "text"), Column("days", "days", ""),
        Column("low_m3", "one in ten lifts less", "volume"),
        Column("middle_m3", "half lift less", "volume"),
        Column("high_m3", "one in ten lifts more", "volume"),
        Column("full_frac", "tank full", "ratio"), Column("lit_s", "mean light", "time")), rows,
        f"each from an empty tank; light of {power_W:.3g} W")


def _nights(values, days, done, usual) -> Part:
    """How long the night's light lasts, and which lasts till dawn, by month and sky."""
    power_W = light.setpoint_W(values)
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
        f" a clear day, - = none of {values['night.useful_W']:.3g} W (night.useful) or more;"
        " where the night is longer than the light and until_dawn is set, the board dims towards"
        " that, and the light lasts longer"),
        usual])


def _known(rig, spreads) -> Part:
    """How many figures are assumed, which matter most for the answers, how to find these."""
    rows, says = [], []
    for name, change in spread.matters(spreads.night, "night", MOST_MATTERS):
        place = NAME_OF[name]
        is_assumed = place in rig.assumed
        rows.append((place, "assumed" if is_assumed else "stated", abs(change)))
        if is_assumed and len(says) < MOST_RECIPES:
            says.append(f"{place}: {recipes.ROWS[place].recipe}")
    count, every = len(rig.assumed), len(rig.figures)
    told = (f"{count} of {every} figures of this rig are assumed, not measured."
            + (" Those that matter most, and how to find them:" if says else "") if rig.marked
            else "This rig marks no figure as assumed.")
    return Part("known", "How well it is known", (), [Table(
        "matters", "Figures that matter most: what one standard uncertainty of each changes"
        " a mean night's light by", (
            Column("figure", "figure", "text"), Column("known", "", "text"),
            Column("change_frac", "by", "ratio")), rows,
        "host/docs/rig.md has a way to find each")], [told, *says])
