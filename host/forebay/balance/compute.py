"""From a shelf to a balance: selects the period, runs the parts, draws the steps.

Owns the order of work only; the physics of each part lies beside it.
"""

from dataclasses import replace

import numpy as np

from forebay.balance import electric
from forebay.balance.blame import blame_of
from forebay.balance.closures import closures
from forebay.balance.covered import covered
from forebay.balance.figures import Figures
from forebay.balance.instruments import Meters
from forebay.balance.leaks import leak_of, moves_of
from forebay.balance.model import ENERGIES, NODES, STEPS, WATER, Balance
from forebay.balance.parts import PARTS, maybe_telling
from forebay.balance.plant import ASSUMED_WATER_DEGC, Store
from forebay.balance.spans import axis_of, keys_of, spans_of, uptime_of
from forebay.balance.water import Water, row_seconds
from forebay.rig import instruments
from forebay.shelf import Clock, Journal, Shelf
from forebay.shelf.certainty import TELLING_BOUND_S, cuts_said
from forebay.shelf.clock import DS_PER_S
from forebay.shelf.local import bound_text
from forebay.shelf.query import journal_between, no_rows
from keeper import channels as ch
from keeper import events
from keeper.protection import elements

MS_PER_H, S_PER_H = 3_600_000, 3600
# Totals are synced once a minute: so much at either end is always without.
TELLING_ROWS_S = 120.0
# Elements that trip or lock, by number: what they did again is told as a count.
TRIPPING = [number for number, row in enumerate(elements.ELEMENTS, 1)
            if row[elements.E_ACTION] >= elements.TRIP]


def balance(shelf: Shelf, rig, rig_id: int | None = None, period=None) -> Balance:
    """Return the balance of one rig on a shelf.

    rig: its description (`forebay.rig.load`), for the meters' errors and the
    tank; rig_id: which rig of the shelf, None = the only one; period: (begin,
    end) [s since 1970 UTC], None = all that is there.
    Raises ShelfError if the shelf holds no such rig, or no row of it in the
    period.
    """
    rig_id = shelf.only_rig() if rig_id is None else rig_id
    journal = journal_between(shelf, rig_id, period)
    found = balance_of(journal, shelf.clock(rig_id), rig, rig_id, period)
    if not found.rows:
        raise no_rows(shelf, rig_id)
    return found


def balance_of(journal: Journal, clock: Clock, rig, rig_id: int = 0, period=None) -> Balance:
    """Return the balance of a decoded journal; arguments as for `balance`."""
    notes = [one for one in (rig.assumed_line(),) if one]
    if period:
        journal = within(journal, clock, period)
    axis = axis_of(journal)
    seconds = row_seconds(journal.rows)
    store = Store(rig, _water_degC(journal.rows, notes))
    ends_s = axis.at(keys_of(journal.rows), journal.rows.uptime_ds)
    found = covered(journal, axis, spans_of(journal, axis), ends_s, seconds)
    spans = found.spans
    fitted = read_in(journal.rows, rig, notes)
    meters = Meters(rig.sensors, fitted)
    part = electric.Electric(journal.rows, ends_s, seconds, spans, rig, meters, fitted)
    flow = Water(journal.rows, ends_s, seconds, spans, found.stretches, store, meters)
    figures = Figures(part, flow, fitted, notes)
    gaps, gap_s = _gaps(journal.rows, found, notes)
    bound_s = _bound(journal, clock, notes)
    notes += journal.findings.lines()
    return Balance(
        rig_id=rig_id,
        stretches_s=_stretches_s(journal.rows, seconds, found.stretches, clock),
        covered_s=spans.seconds,
        from_rows_s=found.from_rows_s,
        energies=figures.of(ENERGIES),
        nodes=figures.of(NODES),
        water=figures.of(WATER),
        steps=figures.of(STEPS),
        told=figures.told,
        telling=maybe_telling(figures.told, fitted),
        **_verdicts(part, flow, figures, fitted),
        light_h=spans.growth(ch.T_LIGHT_MS) / MS_PER_H,
        pump_h=spans.growth(ch.T_PUMP_MS) / MS_PER_H,
        trips=_trips(journal.events),
        boots=len(np.unique(np.concatenate([keys_of(journal.rows), keys_of(journal.events)]))),
        rows=len(journal.rows),
        gaps=gaps,
        gap_s=gap_s,
        time_bound_s=bound_s,
        notes=notes,
    )


def _verdicts(part, flow, figures, fitted):
    """Return whether the tank is tight, which meter is off, and the panel's power [W]."""
    moves = moves_of(flow.rows, flow.ends_s, flow.levels, part.rig, fitted)
    leak = leak_of(flow.levels, flow.store, flow.meters, figures.values["rest_change"], moves)
    left = closures(part, flow, figures.metered, leak, fitted)
    return {"leak": leak, "blame": blame_of(left, part.rig.sensors),
            "rated_W": part.rig.plant()["panel.power_W"]}


def read_in(rows, rig, notes: list[str]) -> frozenset:
    """Return the names of the instruments that are there and gave any reading in these rows.

    One that gave none is told in `notes`, and is as absent: its totals have not grown, which
    does not mean that nothing moved.
    """
    fitted = instruments.fitted(rig.sensors)
    silent = {
        name for name in fitted
        if not all(np.isfinite(rows.si(place)).any()
                   for place in instruments.BY_NAME[name].reads if place < ch.COLUMNS)
    } if len(rows) else set()
    notes += [f"Not read in all this time: {instruments.BY_NAME[name].meaning}."
              for name in sorted(silent) if name in PARTS]
    return frozenset(fitted - silent)


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


def _water_degC(rows, notes):
    degC = rows.si(ch.WATER_MDEGC)
    trusted = degC[np.isfinite(degC)]
    if len(trusted):
        return float(trusted.mean())
    notes.append(f"The water's temperature was not measured: {ASSUMED_WATER_DEGC:g} degC assumed.")
    return None


def _gaps(rows, found, notes):
    """Return (how many gaps of the rows are bridged, their length [s])."""
    step = np.diff(rows.uptime_ds.astype(np.int64)) / DS_PER_S
    missing = (np.diff(keys_of(rows)) == 0) & (np.diff(rows.seq.astype(np.int64)) > 1)
    missing[[last for _, last in found.stretches[:-1]]] = False
    length = (step - rows.scans[1:] / DS_PER_S)[missing]
    if found.from_rows_s > TELLING_ROWS_S:
        notes.append(f"Of {found.from_rows_s / S_PER_H:.1f} h no totals are held: there energies"
                     " and volumes are summed from the rows, and are less certain.")
    if len(found.stretches) > 1:
        notes.append(f"Between the {len(found.stretches)} stretches nothing is known: the figures"
                     " leave that time out.")
    if len(length):
        notes.append(
            f"{len(length)} gaps in the rows, {length.sum() / 60:.0f} min in all, are bridged"
            " by the totals."
        )
    return len(length), float(length.sum())


def _stretches_s(rows, seconds, stretches, clock):
    """Return (begin, end) [s since 1970 UTC] of each stretch, None where not known."""
    firsts, lasts = (np.array([one[side] for one in stretches], int) for side in (0, 1))

    def utc_s(places, back_ds):
        times_s = clock.utc(rows.generation[places], rows.boot[places],
                            rows.uptime_ds[places] - back_ds)
        return [float(one) if np.isfinite(one) else None for one in times_s]

    begins_s = utc_s(firsts, np.round(seconds[firsts] * DS_PER_S))
    # Lives of two boards need not be in the order of time.
    return sorted(zip(begins_s, utc_s(lasts, 0), strict=True),
                  key=lambda one: np.inf if one[0] is None else one[0])


def _bound(journal, clock, notes):
    """Return the largest bound of a time [s], None if one is open; say what is uncertain."""
    tables = (journal.rows, journal.events, journal.totals)
    key = np.concatenate([keys_of(table) for table in tables])
    uptime = np.concatenate([uptime_of(table) for table in tables])
    times = clock.times(key >> 16, key & 0xFFFF, uptime)
    known = np.isfinite(times.utc_s)
    if not known.any():
        return None
    starts = np.unique(key)
    adrift = [int(one) for one in starts if not clock.is_anchored(one >> 16, one & 0xFFFF)]
    if adrift:
        notes += cuts_said(clock, [(int(one) >> 16, int(one) & 0xFFFF) for one in starts])
    met_s = times.bound_s[~np.isin(key, adrift)].max(initial=0.0)
    if met_s > TELLING_BOUND_S:
        notes.append(f"It is long from a pull to some records: their times are"
                     f" {bound_text(met_s)}.")
    notes += clock.notes()
    most_s = float(times.bound_s.max())
    return most_s if np.isfinite(most_s) else None


def _trips(table):
    acted = table["code"] == events.ACTED
    one_by_one = np.count_nonzero(acted & (table["argument2"] >= elements.TRIP))
    repeated = (table["code"] == events.REPEATED) & np.isin(table["argument"], TRIPPING)
    return int(one_by_one + (table["argument2"][repeated] & events.COUNT_MASK).sum())
