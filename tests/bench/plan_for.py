"""What `plan --for` proposes, rehearsed: python -m tests.bench.plan_for [--help].

At drawn sites a wish is drawn, the proposal written into the rig's file and loaded, and nights
of the whole year are played on the twin: each day from an empty tank, its sky a drawn tenth of
the stated clearness, evenly dull or in gaps and clouds as long as they happen to be.

The aim, set before the first run that counted: every proposal loads; over all nights the light
of the wish lasts as long as wished no more seldom than promised, and so at each site, but for
what chance does in one test of twenty (binomial, one-sided, 95 %).  Ends with 1 if missed.
"""

import argparse
import json
import random
import sys
import tomllib
from typing import Any, NamedTuple

import numpy as np
from scipy.stats import binom

from forebay import rig as rigs
from forebay.plan import light, planning, sizing, skies
from forebay.rig import governing
from forebay.rig.schema import NAME_OF
from forebay.sun import plane, several
from forebay.sun import station as places
from forebay.sun.load import ALBEDO
from forebay.sun.window import DEFAULT_WIND_M_S
from tests.bench import doubted
from tests.bench.plan_spread import by_order, stands
from tests.bench.played import played
from tests.campaign.rigs import drawn

SURE = 0.95
LATITUDES_DEG = (-50.0, 60.0)
CLEARNESS = (0.4, 0.65)       # mean of a year: from cloudy coasts to dry uplands
HOURS = (0.5, 6.0)            # each ratio as likely
SHARES = (0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
TRIES = 12                    # wishes of a site, till one can be kept at all
ELSEWHERE = 3000              # further on in the numbers of sites, the same kind of rig
MINUTE_S = doubted.MINUTE_S
FIRST_DAY = skies.date(skies.YEAR, 1, 1)


class Site(NamedTuple):
    """A site with a wish that can be kept there, and the rig that is to keep it."""

    name: str
    wish: sizing.Wish
    clearness: float
    rig: rigs.Rig
    found: sizing.Proposal
    refused: str              # why the proposal does not load; "" = it does
    tries: int                # wishes that were drawn


def written(text: str, changes: dict[str, Any]) -> str:
    """Returns a description as TOML with some figures changed: "section.key_unit" [SI]."""
    source = tomllib.loads(text)
    for place, value in changes.items():
        section, key = NAME_OF.get(place, place).split(".")
        source[section][key] = value
    return "\n".join(f"[{section}]\n" + "".join(
        f"{key} = {json.dumps(value)}\n" for key, value in keys.items())
        for section, keys in source.items())


def placed(draw: Any, number: int) -> tuple[str, str]:
    """Returns (name, description) of a rig at a drawn place, its panel turned to the noon."""
    kind = ("hillside", "orchard", "drawn")[number % 3]
    text = drawn(900 + number)["toml"] if kind == "drawn" else rigs.load(demo=kind).toml_text
    latitude = draw.uniform(*LATITUDES_DEG)
    return f"{kind} at {latitude:.0f} deg", written(text, {
        "site.latitude_deg": latitude, "site.longitude_deg": draw.uniform(-170.0, 170.0),
        "site.height_m": draw.uniform(0.0, 2000.0),
        "panel.tilt_deg": min(60.0, max(15.0, abs(latitude))),
        "panel.azimuth_deg": 180.0 if latitude > 0.0 else 0.0})


def site(number: int) -> Site:
    """Returns a drawn site, and the proposal for the first of its wishes that can be kept."""
    draw = random.Random(f"site {number}")
    name, text = placed(draw, number)
    rig = rigs.load_text(text, name)
    values, clearness = rig.plant(), draw.uniform(*CLEARNESS)
    nights, _, _ = planning.nights_of(rig, None, clearness, is_broken=True)
    doubts = planning._spreads(rig, values, clearness, True).of_wish()
    most_W = light.brightest_W(values, governing.lowest_head_m(values))
    for count in range(1, TRIES + 1):
        hours = HOURS[0] * (HOURS[1] / HOURS[0]) ** draw.random()
        wish = sizing.Wish(3600.0 * hours, most_W * draw.uniform(0.3, 1.05), draw.choice(SHARES))
        found = sizing.proposed(values, wish, nights, doubts)
        if found:
            changes = {place: value for place, value in found.values.items()
                       if value != values[place]}
            try:
                return Site(name, wish, clearness, rigs.load_text(written(text, changes), name),
                            found, "", count)
            except rigs.RigError as error:
                return Site(name, wish, clearness, rig, found, str(error), count)
    return site(number + ELSEWHERE)    # nothing can be kept here: another rig, another place


def skies_of(draw: Any, rig: rigs.Rig, clearness: float, count: int) -> doubted.Skies:
    """Returns drawn days of the year under drawn skies of a mean clearness."""
    found = doubted.Skies.__new__(doubted.Skies)
    days = [FIRST_DAY + skies.timedelta(draw.randrange(365)) for _ in range(count)]
    shares = skies.clear_shares(clearness)
    alone = tuple(sorted(set(days)))
    grid = several.days_at(alone, places.of_site(rig.site), MINUTE_S)
    steps = np.concatenate([alone.index(day) * grid.shape[1] + np.arange(grid.shape[1])
                            for day in days])
    index = np.concatenate([_index(draw, draw.choice(shares), grid.shape[1]) for _ in days])
    sun, ghi = grid.sun.iloc[steps], grid.clear[0][steps] * index
    parts = (ghi, *plane.decomposed(ghi, sun, grid.times[steps]))
    found.poa_W_m2 = np.asarray(plane.plane_of_array(
        parts, sun, rig.panel.tilt_deg, rig.panel.azimuth_deg, ALBEDO)).reshape(count, -1)
    found.air_degC = np.full(found.poa_W_m2.shape, rig.site.air_temperature_degC or 15.0)
    found.cell_degC = np.asarray(plane.cell_degC(found.poa_W_m2, found.air_degC,
                                                 DEFAULT_WIND_M_S))
    return found


def _index(draw, share, length):
    """Returns the clearness of each minute of a day: even, or in gaps and clouds."""
    if draw.random() < 0.5:
        return np.full(length, share)
    mean_min, gaps = draw.uniform(2.0, 15.0), 0.9 * share
    under = (share - gaps) / (1.0 - gaps)      # what the clouds then let through
    out: list[float] = []
    while len(out) < length:
        for part, each in ((gaps, 1.0), (1.0 - gaps, under)):
            out += [each] * round(draw.expovariate(1.0 / (2.0 * mean_min * part)) + 0.5)
    return np.array(out[:length])


def job(number: int, nights: int, otherwise: bool) -> tuple[Site, dict[str, Any]]:
    """Returns (a site, what a player needs of it)."""
    made = site(number)
    draw = random.Random(f"nights {number}")
    under = skies_of(draw, made.rig, made.clearness, nights)
    other = doubted.structure(draw, doubted.KINDS if otherwise else ())
    true = doubted.true_values(draw, made.rig, otherwise)
    warmer = other.pop("cells", None)
    lit = [day for day in range(nights) if under.poa_W_m2[day].max() > 0.0]
    days = [under.given(day, true, warmer) for day in lit] if not made.refused else []
    for one in days:
        one["wished_s"] = made.wish.time_s
    return made, {"rig": {**stands(made.rig.toml_text), **true},
                  "settings": by_order(made.rig), "seed": number, "structure": other,
                  "power_W": made.wish.power_W, "days": days}


def judged(made: Site, came: Any, nights: int) -> tuple[int, bool]:
    """Returns (nights kept, whether a site may keep so few by chance); prints its line."""
    kept = sum((one["lit_s"] or 0.0) >= made.wish.time_s for one in came["days"])
    by_chance = bool(binom.cdf(kept, nights, made.wish.share) > 1.0 - SURE)
    trips = sorted({trip for one in came["days"] for trip in one["trips"]})
    print(f"{made.name:22}{made.wish.time_s / 3600:5.1f} h{made.wish.power_W:9.3g} W"
          f"{made.found.tank:7.2f}{made.found.nozzle:6.2f}{made.found.panel:6.2f}"
          f"{made.found.pump:6.2f}{made.wish.share:9.0%}{made.found.share:7.0%}"
          f"{kept / nights:7.0%}{'' if by_chance else '  MISSED'}"
          f"{'  ' + ' '.join(trips) if trips else ''}", flush=True)
    return kept, by_chance


def main(arguments: list[str] | None = None) -> int:
    """Prints a line a site and the sum; returns 1 if the aim is missed."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--sites", type=int, default=30)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--nights", type=int, default=30)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--otherwise", action="store_true",
                        help="figures off by their doubts, another structure, as in plan_spread")
    asked = parser.parse_args(arguments)
    print(f"{'site':22}{'wish':>18}{'tank':>7}{'jet':>6}{'panel':>6}{'pump':>6}{'promised':>9}"
          f"{'plan':>7}{'kept':>7}")
    jobs = (job(number, asked.nights, asked.otherwise)
            for number in range(asked.first, asked.first + asked.sites))
    kept, promised, missed, refused = 0, 0.0, 0, 0
    for made, came in played(jobs, asked.workers):
        if made.refused:
            refused += 1
            print(f"{made.name:22}does not load: {made.refused}", flush=True)
            continue
        good, by_chance = judged(made, came, asked.nights)
        kept, missed = kept + good, missed + (not by_chance)
        promised += asked.nights * made.wish.share
    return summed(kept, promised, missed, refused, asked.nights * (asked.sites - refused),
                  asked.sites - refused)


def summed(kept: int, promised: float, missed: int, refused: int, nights: int,
           sites: int) -> int:
    """Prints the sum; returns 1 if the aim is missed."""
    least = binom.ppf(1.0 - SURE, nights, promised / nights) if nights else 0.0
    most = binom.ppf(SURE, sites, 1.0 - SURE)
    met = not refused and kept >= least and missed <= most
    print(f"{sites} sites, {nights} nights: promised {promised:.0f}, kept {kept}"
          f" (at least {least:.0f}); sites below their bound {missed} (at most {most:.0f});"
          f" proposals that do not load {refused}: {'met' if met else 'MISSED'}")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
