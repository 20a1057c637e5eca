"""How often the test for a change alarms, and how soon it finds one: python -m tests.bench.trend.

`calibrate`: the largest z of a year of daily looks at days without a change, over what fewer days
ask for, its quantiles: what `forebay.trend.changes.SURE` rests on.  `find`: years without a
change, and years with one: how many days pass till it is found.

The aims, set before the first run that counted: of 400 years of five figures without a change
at most 5 % raise any alarm at any of their looks; a clogging strainer (-30 % over 20 days), a
scaling nozzle (+15 % over 40 days), a panel 30 % weaker from one day on (every third day clear)
and a leak of 10 L/d are found in 90 % of the years within 60 days.  Ends with 1 if one is missed.
"""

import sys

import numpy as np

from forebay.trend import changes
from forebay.trend.changes import Series, candidates, fitted, maybe_change

DAYS = 365
FIGURES = 5
MOST_FALSE = 0.05
LEAST_FOUND, WITHIN_DAYS = 0.90, 60
# name, scatter from day to day, u of a day, size, over how many days (0: at once), of days known
CASES = (
    ("strainer", 0.015, 0.004, np.log(0.70), 20, 1.0),
    ("nozzle", 0.02, 0.005, np.log(1.15), 40, 1.0),
    ("panel", 0.08, 0.05, np.log(0.70), 0, 0.33),
    ("leak [L/d]", 1.0, 1.5, 10.0, 0, 1.0),
)
BEGINS = 30              # days of health before each change


def largest(years, seed=1):
    """Returns the largest z of each year's daily looks, days all alike, scatter estimated."""
    draw = np.random.default_rng(seed)
    values = draw.standard_normal((DAYS, years))
    most = np.zeros(years)
    for length in range(changes.LEAST_DAYS, DAYS + 1):
        seen = values[:length]
        turned, _ = fitted(candidates(np.arange(length, dtype=float))[1], np.ones(length))
        off = np.quantile(np.abs(np.diff(seen, axis=0)), changes.QUANTILE, axis=0)
        s = changes.BY_QUANTILE * off / np.sqrt(2.0)
        z = np.abs(turned @ seen).max(axis=0) / s
        most = np.maximum(most, z / changes.least_z(length, 1.0))
    return most


def first_found(case, seed):
    """Returns (days from the change till it was found or None, the change) of one year."""
    _, spread, u, size, over, known = case
    draw = np.random.default_rng(seed)
    days = np.arange(BEGINS + 2 * WITHIN_DAYS, dtype=float)
    shape = np.clip((days - BEGINS + 1) / over, 0.0, 1.0) if over else (days >= BEGINS) * 1.0
    values = size * shape + np.hypot(spread, u) * draw.standard_normal(len(days))
    there = draw.random(len(days)) < known
    for now in range(BEGINS, len(days)):
        seen = there & (days <= now)
        found = maybe_change(Series(days[seen], values[seen], np.full(seen.sum(), u)))
        if found is not None and found.latest >= BEGINS - 10:
            return now - BEGINS + 1, found
    return None, None


def false_alarms(years, seed=7):
    """Returns the share of years of FIGURES figures that raise an alarm at any look."""
    most = largest(years * FIGURES, seed).reshape(years, FIGURES)
    return float((most > changes.SURE).any(axis=1).mean())


def main(what="find", count="400"):
    """Prints what was asked for; returns 1 if an aim is missed."""
    if what == "calibrate":
        most = largest(int(count))
        for share in (0.9, 0.95, 0.98, 0.99, 0.995):
            print(f"{share:.1%} of years: largest z {np.quantile(most, share):.2f}")
        return 0
    share = false_alarms(int(count))
    missed = share > MOST_FALSE
    print(f"false alarms: {share:.1%} of {count} years of {FIGURES} figures"
          f"{'  MISSED' if missed else ''}")
    for case in CASES:
        found = [first_found(case, seed) for seed in range(int(count) // 4)]
        took = [days for days, _ in found if days is not None and days <= WITHIN_DAYS]
        share = len(took) / len(found)
        missed |= share < LEAST_FOUND
        print(f"{case[0]:12} found {share:.0%} within {WITHIN_DAYS} d; median"
              f" {np.median(took):.0f} d, 90 % {np.quantile(took, 0.9):.0f} d"
              f"{'' if share >= LEAST_FOUND else '  MISSED'}")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
