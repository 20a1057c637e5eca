"""From a shelf to a balance: selects the period, runs the parts, draws the steps.

Owns the order of work only; the physics of each part lies beside it.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from forebay.balance.around import Around, moving_around, reach
from forebay.balance.blame import blame_of
from forebay.balance.closures import closures
from forebay.balance.corrected import corrected
from forebay.balance.derived import derived
from forebay.balance.electric import Electric
from forebay.balance.figures import Figures
from forebay.balance.gathering import Gathered, Gatherer
from forebay.balance.instruments import Meters
from forebay.balance.leaks import leak_of, moves_of
from forebay.balance.model import ENERGIES, NODES, STEPS, WATER, Balance
from forebay.balance.moving import Moving
from forebay.balance.nights import maybe_pump_sun_down_h
from forebay.balance.parts import PARTS, maybe_telling
from forebay.balance.plant import ASSUMED_WATER_DEGC, Store
from forebay.balance.spans import Axis, axis_of, keys_of, uptime_of
from forebay.balance.spill import UNPROVED, UNPROVED_NOTE, spilling
from forebay.balance.sums import Summing
from forebay.balance.water import Water
from forebay.balance.windows import Windows, steps_of
from forebay.rig import instruments
from forebay.shelf import Clock, Journal, Shelf
from forebay.shelf.certainty import TELLING_BOUND_S, cuts_said
from forebay.shelf.decode import Findings
from forebay.shelf.local import bound_text
from forebay.shelf.query import no_rows
from forebay.shelf.stepwise import Reader, Step
from keeper import channels as ch

MS_PER_H, S_PER_H = 3_600_000, 3600
# Totals are synced once a minute: so much at either end is always without.
TELLING_ROWS_S = 120.0
OF_WATER = frozenset(("level", "flow_up", "flow_down"))


def balance(shelf: Shelf, rig, rig_id: int | None = None, period=None,
            reader: Reader | None = None) -> Balance:
    """Return the balance of one rig on a shelf, in memory that does not grow with the period.

    rig: its description (`forebay.rig.load`), for the meters' errors and the
    tank; rig_id: which rig of the shelf, None = the only one; period: (begin,
    end) [s since 1970 UTC], None = all that is there; reader: of that shelf and rig, for
    who asks often.
    Raises ShelfError if the shelf holds no such rig, or no row of it in the
    period.
    """
    rig_id = shelf.only_rig() if rig_id is None else rig_id
    found = maybe_balance(reader or Reader(shelf, rig_id), rig, rig_id, period)
    if found is None:
        raise no_rows(shelf, rig_id)
    return found


def maybe_balance(reader: Reader, rig, rig_id: int, period=None) -> Balance | None:
    """Return the balance of a period, None where no row of it is there; as for `balance`."""
    found = balance_of_steps(lambda: reader.steps(period), Axis.of_ends(reader.ends_s),
                             reader.not_pulled, reader.clock, rig, rig_id, period, reader.steps,
                             reach(reader))
    return found if found.rows or found.covered_s else None


def balance_of(journal: Journal, clock: Clock, rig, rig_id: int = 0, period=None) -> Balance:
    """Return the balance of a decoded journal; arguments as for `balance`."""
    return balance_of_steps(lambda: steps_of(journal), axis_of(journal), [], clock, rig, rig_id,
                            period, lambda _: steps_of(journal))


def balance_of_steps(steps: Callable[[], Iterable[Step]], axis: Axis, not_pulled: list[str],
                     clock: Clock, rig, rig_id: int = 0, period=None,
                     around: Around | None = None,
                     whole: tuple[float, float] | None = None) -> Balance:
    """Return the balance of a journal in steps, which are gone through once or twice.

    axis: on which all of it lies; not_pulled: names of files of which the board has more;
    around, whole: of `around.moving_around`, for a rig of whose water a model must tell; others
    as for `balance`.
    """
    notes = [one for one in (rig.assumed_line(),) if one]
    there = frozenset(instruments.fitted(rig.sensors))
    kept, findings = gathered(steps(), axis, not_pulled, clock, rig, there, period)
    fitted = read_in(kept.sums, there, notes)
    if fitted != there:
        # Of one that was never read, others stand in its place.
        kept, findings = gathered(steps(), axis, not_pulled, clock, rig, fitted, period)
    if kept.moving is not None and period is not None and around is not None:
        kept.moving = moving_around(around, whole, axis, clock, rig, fitted, period)
    return _balance(kept, findings, axis, clock, rig, rig_id, fitted, notes)


def _balance(kept: Gathered, findings, axis, clock, rig, rig_id, fitted, notes) -> Balance:
    """Return the balance of what was kept; fitted: as for `_figures`; notes: to go on with."""
    figures = _figures(kept, rig, fitted, notes)
    spill = _spill(kept, figures, rig, notes)
    _say_gaps(kept, notes)
    bound_s = _bound(kept, clock, notes)
    leak, blame = _leak_and_blame(kept, figures, rig)
    notes += replace(findings, missing_rows=kept.missing).lines()
    return Balance(
        rig_id=rig_id,
        stretches_s=_stretches_s(kept.stretches),
        covered_s=kept.spans.seconds,
        from_rows_s=kept.from_rows_s,
        energies=figures.of(ENERGIES),
        nodes=figures.of(NODES),
        water=figures.of(WATER),
        steps=figures.of(STEPS),
        derived=derived(figures, spill, _rated_W(rig)),
        told=figures.told,
        telling=maybe_telling(figures.told, fitted),
        leak=leak,
        blame=blame,
        light_h=kept.spans.growth(ch.T_LIGHT_MS) / MS_PER_H,
        pump_h=kept.spans.growth(ch.T_PUMP_MS) / MS_PER_H,
        pump_sun_down_h=maybe_pump_sun_down_h(kept.course, axis, clock, rig),
        trips=kept.trips,
        boots=len(kept.boots),
        rows=kept.sums.rows,
        gaps=kept.gaps,
        gap_s=kept.gap_s,
        time_bound_s=bound_s,
        notes=notes,
    )


def _figures(kept: Gathered, rig, fitted, notes) -> Figures:
    """Return the figures of what was kept; fitted: instruments that are there and were read."""
    degC = kept.sums.water_degC
    if degC is None:
        notes.append("The water's temperature was not measured:"
                     f" {ASSUMED_WATER_DEGC:g} degC assumed.")
    meters = Meters(rig.sensors, fitted)
    # As they are where all are the period's own: a year of them is not held twice.
    own = slice(None) if kept.own.all() else kept.own
    part = Electric(kept.sums, kept.spans, kept.dark, rig, meters, fitted, kept.cuts,
                    kept.rows.take(own), kept.ends_s[own], kept.moving)
    flow = Water(kept.rows, kept.ends_s, kept.seconds, kept.spans,
                 [(one.first, one.last) for one in kept.stretches], Store(rig, degC), meters,
                 kept.sums, [(one.begin_s, one.end_s) for one in kept.stretches], kept.cuts,
                 kept.linked, kept.course)
    return Figures(part, flow, fitted, notes)


def gathered(steps: Iterable[Step], axis: Axis, not_pulled: list[str], clock: Clock, rig,
             fitted: frozenset, period=None) -> tuple[Gathered, Findings]:
    """Return what is kept of the steps of a journal, and what was found in them.

    fitted: names of the instruments that are there and were read; others as for `balance`.
    """
    windows = Windows(axis, not_pulled)
    # Without these a model of the rig must tell what water moved, row by row.
    moving = None if fitted >= OF_WATER else Moving(rig, fitted)
    gatherer = Gatherer(Summing(rig, fitted), clock, period, moving)
    right = (corrected(step, rig) for step in steps)
    kept = Gathered.joined([gatherer.of(window) for window in windows.of(right)])
    if moving is not None:
        moving.end()
        kept.moving = moving
    windows.findings.not_pulled += not_pulled
    return kept, windows.findings


def read_in(sums, there: frozenset, notes: list[str]) -> frozenset:
    """Return the names of the instruments that are there and gave any reading in some rows.

    One that gave none is told in `notes`, and is as absent: its totals have not grown, which
    does not mean that nothing moved.
    """
    silent = {
        name for name in there
        if not all(sums.read[place] for place in instruments.BY_NAME[name].reads
                   if place < ch.COLUMNS)
    } if sums.rows else set()
    notes += [f"Not read in all this time: {instruments.BY_NAME[name].meaning}."
              for name in sorted(silent) if name in PARTS]
    return there - silent


def within(journal: Journal, clock: Clock, period) -> Journal:
    """Return the part of a journal between two times [s since 1970 UTC].

    Records with totals at either time belong to it; of the rows those that
    end later than its begin.
    """
    begin_s, end_s = period

    def utc_s(table):
        key = keys_of(table)
        return clock.utc(key >> 16, key & 0xFFFF, uptime_of(table))

    def inside(table):
        return (utc_s(table) >= begin_s) & (utc_s(table) <= end_s)

    ends_s = utc_s(journal.rows)
    return replace(
        journal,
        rows=journal.rows.take((ends_s > begin_s) & (ends_s <= end_s)),
        events=journal.events[inside(journal.events)],
        totals=journal.totals[inside(journal.totals)],
        summaries=journal.summaries[inside(journal.summaries)],
    )


def _rated_W(rig):
    """Return the panel's power in standard sun, by its description [W]."""
    values = rig.plant()
    return values["panel.best_voltage_V"] * values["panel.best_current_A"]


def _leak_and_blame(kept, figures, rig):
    """Return whether the tank keeps its water, and which meter is off."""
    part, flow = figures.part, figures.flow
    leak = leak_of(kept.rests, flow.store, flow.meters, figures.values["rest_change"],
                   moves_of(part.rows, part.ends_s, flow.levels, rig, figures.fitted))
    left = closures(part, flow, figures.metered, leak, figures.fitted)
    return leak, blame_of(left, rig.sensors)


def _spill(kept, figures, rig, notes):
    """Return how it is known what spilled, and the value; say so where no float tells."""
    found = spilling(kept.sums, figures, rig.sensors.flow_frac)
    if found[0].by == UNPROVED:
        notes.append(UNPROVED_NOTE)
    return found


def _say_gaps(kept, notes):
    """Say what lies between rows and totals."""
    if kept.from_rows_s > TELLING_ROWS_S:
        notes.append(f"Of {kept.from_rows_s / S_PER_H:.1f} h no totals are held: there energies"
                     " and volumes are summed from the rows, and are less certain.")
    if len(kept.stretches) > 1:
        notes.append(f"Between the {len(kept.stretches)} stretches nothing is known: the figures"
                     " leave that time out.")
    if kept.gaps:
        notes.append(f"{kept.gaps} gaps in the rows, {kept.gap_s / 60:.0f} min in all, are"
                     " bridged by the totals.")


def _stretches_s(stretches):
    """Return (begin, end) [s since 1970 UTC] of each stretch, None where not known."""
    def maybe(at_s):
        return float(at_s) if np.isfinite(at_s) else None

    found = [(maybe(one.begin_utc_s), maybe(one.end_utc_s)) for one in stretches]
    # Lives of two boards need not be in the order of time.
    return sorted(found, key=lambda one: np.inf if one[0] is None else one[0])


def _bound(kept, clock, notes):
    """Return the largest bound of a time [s], None if one is open; say what is uncertain."""
    if not kept.is_time_known:
        return None
    starts = sorted(kept.bounds_s)
    adrift = [one for one in starts if not clock.is_anchored(one >> 16, one & 0xFFFF)]
    if adrift:
        notes += cuts_said(clock, [(one >> 16, one & 0xFFFF) for one in starts])
    met_s = max((kept.bounds_s[one] for one in starts if one not in adrift), default=0.0)
    if met_s > TELLING_BOUND_S:
        notes.append(f"It is long from a pull to some records: their times are"
                     f" {bound_text(met_s)}.")
    notes += clock.notes()
    most_s = max(kept.bounds_s.values())
    return most_s if np.isfinite(most_s) else None
