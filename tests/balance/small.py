"""Journals of a few records, written out by hand."""

import numpy as np

from forebay.balance.covered import Rowed
from forebay.balance.dark import DARK_KINDS, dark_of
from forebay.balance.instruments import ALL
from forebay.balance.spans import axis_of, spans_of
from forebay.balance.sums import Summing
from forebay.shelf.decode import Findings, Journal, decode
from forebay.shelf.rows import Rows
from keeper import channels as ch
from keeper import events
from keeper.journal.rows import NOT_TRUSTED
from tests.balance.rig import limbs

EMPTY = decode([])


def rows(*records, generation=0):
    """Rows from (boot, uptime [0.1 s], scans, state, {channel: stored value}), the rest unread."""
    made = Rows.empty(len(records))
    made.seq[:] = np.arange(len(records)) + 1
    made.generation[:] = generation
    made.contacts[:] = 0
    made.stored[:] = NOT_TRUSTED
    for place, (boot, uptime_ds, scans, state, values) in enumerate(records):
        made.boot[place], made.uptime_ds[place] = boot, uptime_ds
        made.scans[place], made.state[place] = scans, state
        for channel, value in values.items():
            made.stored[channel][place] = value
    return made


def totals(up=0, down=0, pump_ms=0, light_ms=0, panel=0):
    """The ten totals of a record."""
    ten = [0] * len(ch.TOTALS)
    ten[ch.T_UP], ten[ch.T_DOWN] = up, down
    ten[ch.T_PUMP_MS], ten[ch.T_LIGHT_MS], ten[ch.T_PANEL] = pump_ms, light_ms, panel
    return ten


def happened(*records, generation=0):
    """Events from (boot, uptime [0.1 s], code, argument, state, totals)."""
    made = np.zeros(len(records), EMPTY.events.dtype)
    made["generation"] = generation
    made["seq"] = np.arange(len(records)) + 1
    for place, (boot, uptime_ds, code, argument, state, ten) in enumerate(records):
        made["boot"][place], made["uptime_ds"][place] = boot, uptime_ds
        made["code"][place], made["argument"][place] = code, argument
        made["state"][place] = state
        made["totals"][place] = limbs(np.array(ten))
    return made


def changed(boot, uptime_ds, left, entered, ten):
    """An event that a state was left for another."""
    return (boot, uptime_ds, events.STATE, left, entered, ten)


def kept(*records, generation=0):
    """Records of totals from (boot, uptime [0.1 s], totals)."""
    made = np.zeros(len(records), EMPTY.totals.dtype)
    made["generation"] = generation
    for place, (boot, uptime_ds, ten) in enumerate(records):
        made["boot"][place], made["uptime_ds"][place] = boot, uptime_ds
        made["totals"][place] = limbs(np.array(ten))
    return made


def journal(some_rows=None, some_events=None, some_totals=None):
    """A journal of these."""
    return Journal(Rows.empty(0) if some_rows is None else some_rows,
                   EMPTY.events if some_events is None else some_events,
                   EMPTY.totals if some_totals is None else some_totals,
                   EMPTY.summaries, Findings())


def summed_up(one, rig, fitted=ALL):
    """What rows add up to, their spans, and those without sun by kind."""
    axis = axis_of(one)
    own, spans, summing = Rowed.of(one.rows, axis), spans_of(one, axis), Summing(rig, fitted)
    sun = summing.sunlit(one.rows)
    kinds, rows_dark = dark_of(sun, own, spans)
    travel = summing.travels(one.rows, own.key)
    return (summing.of(one.rows, own.seconds, sun, rows_dark, travel), spans,
            {kind: spans.where(kinds == kind).whole() for kind in DARK_KINDS})
