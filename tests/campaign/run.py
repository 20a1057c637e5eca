"""The campaign, by hand: python -m tests.campaign.run [--help].

Single faults in every state, pairs, each element disabled in turn, an overcast
week, and random days; ends with 1 if anything is not as declared.  A line `days --seed N --days
1` repeats a day; a case is repeated by --faults with its name.  It runs on all
cores, under PyPy where that is found; with --done FILE it goes on where it was
interrupted.  With --rig NAME or --subsets N the same is asked of rigs with less: single
faults, random days and days without a fault.
"""

import argparse
import os
import shutil
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

from keeper import modes
from tests.campaign import days, disabled, expected, lesser, pairs, singles

PARTS = ("singles", "pairs", "disabled", "dull", "days", "healthy")
OF_LESSER = ("singles", "days", "healthy")
OF_DEMO = PARTS[:5]
HEALTHY_SEED = 500001
DULL_WEEK = range(1000, 1007)     # seeds of seven overcast days on end
FASTER = "pypy3"


def main(arguments=None) -> int:
    """Runs what is asked for, where it is fast; returns 0 if all of it is as declared."""
    given = sys.argv[1:] if arguments is None else arguments
    asked = asked_for(given)
    path = shutil.which(FASTER if asked.python == "auto" else asked.python)
    if asked.python == "here" or (path is None and asked.python == "auto"):
        return play(asked)
    if path is None:
        raise SystemExit(f"--python {asked.python}: no such program")
    from tests.campaign import faster

    return faster.start(path, given)


def asked_for(arguments):
    """Returns what the command line asks for."""
    return _parser().parse_args(arguments)


def play(asked) -> int:
    """Runs what is asked for; returns 0 if all of it is as declared."""
    print(f"under {sys.implementation.name}, {asked.workers} processes", flush=True)
    failed = 0
    with ProcessPoolExecutor(asked.workers) as pool:
        for part in _parts(asked):
            began = time.monotonic()
            count, bad = globals()["_" + part](asked, pool)
            failed += bad
            print(f"{part}: {count} run, {bad} not as declared,"
                  f" {time.monotonic() - began:.0f} s", flush=True)
    return 1 if failed else 0


def _parts(asked):
    return asked.parts or (OF_LESSER if lesser_names(asked) else OF_DEMO)


def lesser_names(asked):
    """Returns the names of the rigs with less that are asked for."""
    return [*asked.rig, *(f"subset {number}" for number in range(1, asked.subsets + 1))]


def _parser():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART",
                        help=f"which of {', '.join(PARTS)}; without any, all")
    parser.add_argument("--seed", type=int, default=1, help="seed of the first random day")
    parser.add_argument("--days", type=int, default=1000, help="how many random days")
    parser.add_argument("--healthy", type=int, default=30,
                        help="how many days without a fault, of rigs with less")
    parser.add_argument("--rig", action="append", default=[], metavar="NAME",
                        help="a rig with less: orchard, or subset N")
    parser.add_argument("--subsets", type=int, default=0, metavar="N",
                        help="the first N random subsets of instruments")
    parser.add_argument("--workers", type=int, default=os.cpu_count(), help="processes")
    parser.add_argument("--python", default="auto", metavar="auto|here|PROGRAM",
                        help="what it runs under: auto takes pypy3 where it is found")
    parser.add_argument("--done", type=Path, metavar="FILE",
                        help="keeps what came out as declared, and leaves out what it names")
    parser.add_argument("--faults", help="names of faults, with commas; without it, all")
    parser.add_argument("--stall", type=float, help="one flash stall [s]; without it, all three")
    parser.add_argument("--short", action="store_true", help="one onset, needed states only")
    return parser


def _left(asked, cases):
    """Returns the cases that --done does not name yet, by their text."""
    if not asked.done or not asked.done.exists():
        return list(cases)
    done = set(asked.done.read_text(encoding="utf-8").splitlines())
    return [one for one in cases if str(one) not in done]


def _kept(asked, results):
    """Passes results on; what is as declared is kept in --done at once."""
    for case, failures in results:
        if asked.done and not failures:
            with asked.done.open("a", encoding="utf-8") as file:
                file.write(f"{getattr(case, 'day', case)}\n")
        yield case, failures


def _told(results, count, describe):
    """Prints what is not as declared, and progress; returns how many were not."""
    bad = done = 0
    for result, failures in results:
        done += 1
        if failures:
            bad += 1
            print(describe(result), "; ".join(failures), flush=True)
        if sys.stderr.isatty() or done % 100 == 0:
            print(f"\r{done} of {count}", end="" if sys.stderr.isatty() else "\n",
                  file=sys.stderr, flush=True)
    return bad


def single_cases(names=None, stall_s=None, short=False, rig=""):
    """Returns the cases of single faults.

    Every state at the first onset; the states that a fault needs at each onset;
    without and with each stall, later onsets and other states with the longest.
    """
    stalls = singles.STALLS_S if stall_s is None else (stall_s,)
    found = []
    for name in lesser.names_of(lesser.told(rig)["settings"]) if rig else expected.NAMES:
        if names and name not in names:
            continue
        for state in singles.STATES:
            needed = singles.Case(name, state, rig=rig).needed
            if not needed and short:
                continue
            first = stalls if needed else (stalls[0], stalls[-1])
            found += [singles.Case(name, state, singles.ONSETS[0], stall, rig=rig)
                      for stall in dict.fromkeys(first)]
            if needed and not short:
                found += [singles.Case(name, state, onset, stalls[-1], rig=rig)
                          for onset in singles.ONSETS[1:]]
    return found


def _one_single(case):
    try:
        outcome = singles.run(case)
    except AssertionError as error:
        # A scene of the demo's volumes may not come about on a rig of its own.
        timed = lesser.told(case.rig).get("is_timed", True)
        return case, (str(error),) if timed else ()
    return case, outcome.failures


def _singles(asked, pool):
    names = asked.faults and asked.faults.split(",")
    cases = _left(asked, [case for rig in lesser_names(asked) or [""]
                          for case in single_cases(names, asked.stall, asked.short, rig)])

    def describe(case):
        return (f"{case.fault} in {modes.STATES[case.state][0]}, {case.onset} scans on, stall"
                f" {case.stall_s:g} s{case.rig and ', ' + case.rig}:")

    results = _kept(asked, pool.map(_one_single, cases, chunksize=4))
    return len(cases), _told(results, len(cases), describe)


def _one_pair(pair, stall_s):
    return pair, pairs.run(pair, stall_s)[0]


def _pairs(asked, pool):
    stalls = singles.STALLS_S if asked.stall is None else (asked.stall,)
    bad = 0
    for stall_s in stalls:
        bad += _told(pool.map(partial(_one_pair, stall_s=stall_s), pairs.PAIRS), len(pairs.PAIRS),
                     lambda pair, s=stall_s: f"{' + '.join(pair.faults)}, stall {s:g} s:")
    return len(pairs.PAIRS) * len(stalls), bad


def _disabled(_, pool):
    bad = 0
    for found in pool.map(disabled.notice, disabled.IDS):
        bad += not found.failures
        print(f"without {found.element}: {found.case}:"
              f" {'; '.join(found.failures) or 'not noticed'}", flush=True)
    return len(disabled.IDS), bad


def _one_day(day):
    result = days.run(day)
    return result, result.failures


def _dull(_, pool):
    week = [days.Day(seed, kind="dull week", with_faults=False, demo=True)
            for seed in DULL_WEEK]
    return len(week), _told(pool.map(_one_day, week), len(week), lambda one: (
        f"day {one.day.seed} of the dull week:"))


def _wanted_days(asked):
    """Returns the random days that are still to be lived."""
    stalls = singles.STALLS_S if asked.stall is None else (asked.stall,)
    rigs = lesser_names(asked) or [""]
    return _left(asked, [days.Day(seed, stalls[seed % len(stalls)], rig=rigs[seed % len(rigs)])
                         for seed in range(asked.seed, asked.seed + asked.days)])


def drawn_seeds(asked):
    """Returns the seeds of the random rigs that what is asked for needs."""
    if "days" not in _parts(asked):
        return []
    return [day.seed for day in _wanted_days(asked) if day.is_drawn]


def _healthy(asked, pool):
    """Days without a fault, of each rig in turn: from other seeds than those of `days`."""
    rigs = lesser_names(asked) or [""]
    return _lived(asked, pool, [
        days.Day(seed, with_faults=False, rig=rigs[seed % len(rigs)])
        for seed in range(HEALTHY_SEED, HEALTHY_SEED + asked.healthy)])


def _days(asked, pool):
    return _lived(asked, pool, _wanted_days(asked))


def _lived(asked, pool, wanted):
    kept = []

    def results():
        for result, failures in _kept(asked, pool.map(_one_day, wanted)):
            kept.append(result)
            yield result, failures

    bad = _told(results(), len(wanted), lambda one: (
        f"day {one.day.seed}, fault {one.fault or 'none'}, stall {one.day.stall_s:g} s"
        f"{one.day.rig and ', ' + one.day.rig}:"))
    for fault, others in _unexpected(kept).items():
        print(f"  not expected of {fault or 'a healthy rig'}: {', '.join(others)}")
    healthy = [one for one in kept if one.is_healthy]
    cut = sum(not one.fault and one.is_cut for one in kept)
    if cut:
        print(f"  {cut} days, else without a fault, on which somebody pressed a stop that the"
              " board does not read")
    for one in healthy:
        if one.trips:
            print(f"  without a fault, day {one.day.seed}{one.day.rig and ', ' + one.day.rig},"
                  f" acted: {', '.join(one.acted)}")
    hazards = sum(any(said.startswith("hazard") for said in one.failures) for one in kept)
    print(f"  {hazards} days with a hazard that nothing excuses;"
          f" {len(healthy)} days without a fault: {sum(one.trips for one in healthy)} trips,"
          f" {sum(one.lockouts for one in healthy)} lockouts;"
          f" {sum(one.day.is_drawn for one in kept)} days of random rigs;"
          f" {sum(one.lifted_L for one in kept):.0f} L up,"
          f" {sum(one.let_down_L for one in kept):.0f} L down,"
          f" {sum(one.lamp_Wh for one in kept):.0f} Wh of light;"
          f" {sum(one.judged_s for one in kept) / 3600:.0f} h judged by what they could give")
    return len(wanted), bad


def _unexpected(results):
    """Returns {fault: elements that acted first and were not expected to, with their seeds}."""
    found: dict = {}
    for one in results:
        if one.unexpected:
            found.setdefault(one.fault, []).append(f"{one.unexpected} (seed {one.day.seed})")
    return found


if __name__ == "__main__":
    sys.exit(main())
