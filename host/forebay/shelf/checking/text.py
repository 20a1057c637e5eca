"""A check as lines for a terminal, in 80 columns, and as a JSON document."""

import textwrap
from datetime import tzinfo

import numpy as np

from forebay.shelf.certainty import contacts_said
from forebay.shelf.checking.losses import WHAT, Loss
from forebay.shelf.checking.report import Check, Verdict
from forebay.shelf.local import iso_local, maybe_iso
from forebay.shelf.segments import STREAM_NAMES

WIDTH = 80
MOST_LINES = 12
KB = 1000.0
# Rows wait for flash at most this long (the journal's specification, section 5).
SYNC_S = 60


def lines(check: Check, zone: tzinfo) -> list[str]:
    """Return a check as lines of at most 80 columns; zone: of the times in it."""
    found = [*_held(check), *_wrong(check, zone), *_known(check, zone), _verdict(check)]
    return [line for text in found for line in textwrap.wrap(
        text, WIDTH, subsequent_indent="  ", break_on_hyphens=False)]


def _held(check):
    sizes = [f"{STREAM_NAMES[stream]} {count} ({size / KB:.0f} kB)" for stream, (count, size) in
             enumerate(zip(check.segments.counts, check.segments.sizes, strict=True))]
    return [
        f"segments: {', '.join(sizes)}; every CRC was checked",
        f"records: {check.rows} rows, {check.events} events, {check.summaries} summaries of"
        f" {check.boots} starts of the board",
    ]


def _wrong(check, zone):
    found = [f"the shelf's file: {fault}" for fault in check.database]
    found += [f"damaged: {one.name}, {one.size} bytes at {one.at}: {one.what}"
              for one in check.segments.damage]
    found += [f"lost: {_loss(loss, zone)}" for loss in check.losses if not loss.is_explained]
    if check.conflicts:
        first = ", ".join(str(seq) for _, seq in check.conflicts[:MOST_LINES])
        found.append(f"differ: {len(check.conflicts)} rows exist twice and differ: {first}")
    if check.conflicting_records:
        found.append(f"differ: {check.conflicting_records} events or summaries exist twice and"
                     " differ")
    if check.unreadable_records:
        found.append(f"unreadable: {check.unreadable_records} records are whole but do not follow"
                     " the format")
    found += [f"total {one.total} {one.text}, start {one.boot} at {one.uptime_ds / 10:.1f} s"
              for one in check.disagreements]
    left = len(found) - 3 * MOST_LINES
    if left > 0:
        found[3 * MOST_LINES :] = [f"... and {left} more; --json has them all"]
    return found


def _loss(loss: Loss, zone):
    span = str(loss.first) if loss.count == 1 else f"{loss.first} to {loss.last}"
    when = ""
    if np.isfinite(loss.before_s):
        when = f", before {iso_local(loss.before_s, zone)}"
        if np.isfinite(loss.after_s):
            when = f", {iso_local(loss.after_s, zone)} to {iso_local(loss.before_s, zone)}"
    what = WHAT[loss.kind] if loss.count > 1 else WHAT[loss.kind][:-1].replace("ie", "y")
    return f"{what} {span}{when}: {loss.why}"


def _known(check, zone):
    """Return what is no fault, but good to know."""
    found = [f"not there: {_loss(loss, zone)}" for loss in check.losses if loss.is_explained]
    found += [f"newer: {name} is of version {version}: kept byte for byte, not read"
              for name, version in check.segments.newer]
    if check.segments.not_pulled:
        found.append(f"not wholly pulled: {', '.join(check.segments.not_pulled[:MOST_LINES])};"
                     " pull again")
    if check.restarts:
        found.append(f"restarts: {check.restarts}; before each, up to {SYNC_S} s of samples were"
                     " not on flash yet and left no number")
    if check.segments.cut_bytes:
        found.append(f"cut: {check.segments.cut_bytes} bytes of records that were being written"
                     " or fetched")
    if check.compared:
        found.append(f"totals: {check.compared} stretches compared with their rows")
    bound = "not bounded" if check.most_bound_s is None else f"+- {check.most_bound_s:.1f} s"
    found.append(f"times: the least certain row {bound}" if check.rows else "times: no rows")
    found += contacts_said(check.clock, zone) + check.notes
    return found + [line for held in check.holdings for line in _holding(held, zone)]


def _holding(held, zone):
    parts = [f"{days:.1f} days of {what}" for days, what in (
        (held.detail_days, "rows"), (held.summary_days, "summaries")) if days is not None]
    what = " and ".join(parts) or "nothing with a time"
    room = f" of {held.budget_B / KB:.0f}" if held.budget_B else ""
    which = f" {held.board}" if held.board else ""
    found = [f"board{which} at {iso_local(held.utc_s, zone)}: {held.used_B / KB:.0f}{room} kB"
             f" used; it held {what}"]
    if held.fits_days is None:
        found.append("next pull: the board did not tell its room, so nobody knows when; pull"
                     " again with this forebay")
    else:
        rate = "at that rate" if held.is_measured else "at 16 h running a day"
        found.append(f"next pull: within {held.fits_days:.0f} days of that, {rate}, or rows are"
                     " lost")
    return found


def _verdict(check):
    return {
        Verdict.SOUND: "sound: nothing is damaged, no number is missing",
        Verdict.INCOMPLETE: "INCOMPLETE: what is here is whole, but not all is here: see above",
        Verdict.DAMAGED: "DAMAGED: see above",
    }[check.verdict]


def document(check: Check) -> dict:
    """Return a check as a JSON document, as described in docs/json.md."""
    return {
        "rig_id": check.rig_id,
        "verdict": check.verdict.value,
        "database_faults": check.database,
        "segments": dict(zip(STREAM_NAMES, check.segments.counts, strict=True)),
        "segment_bytes_B": dict(zip(STREAM_NAMES, check.segments.sizes, strict=True)),
        "rows": check.rows, "events": check.events, "summaries": check.summaries,
        "boots": check.boots, "restarts": check.restarts,
        "damage": [{"file": one.name, "life": one.generation, "at_B": one.at, "size_B": one.size,
                    "what": one.what} for one in check.segments.damage],
        "losses": [{"what": WHAT[one.kind], "life": one.generation, "first": one.first,
                    "last": one.last, "after_utc": maybe_iso(one.after_s),
                    "before_utc": maybe_iso(one.before_s), "why": one.why,
                    "fault": not one.is_explained} for one in check.losses],
        "rows_that_differ": [{"life": generation, "seq": seq}
                             for generation, seq in check.conflicts],
        "records_that_differ": check.conflicting_records,
        "unreadable_records": check.unreadable_records,
        "unknown_records": check.unknown_records,
        "totals_compared": check.compared,
        "totals_that_disagree": [{"life": one.generation, "boot": one.boot,
                                  "uptime_s": one.uptime_ds / 10, "total": one.total,
                                  "text": one.text} for one in check.disagreements],
        "newer": [{"file": name, "version": version} for name, version in check.segments.newer],
        "not_wholly_pulled": check.segments.not_pulled,
        "cut_B": check.segments.cut_bytes,
        "largest_bound_s": check.most_bound_s,
        "boards": [{"board": held.board or None, "utc": maybe_iso(held.utc_s),
                    "used_B": held.used_B, "budget_B": held.budget_B,
                    "detail_days": held.detail_days, "summary_days": held.summary_days,
                    "fits_days": held.fits_days, "fits_is_measured": held.is_measured}
                   for held in check.holdings],
        "notes": check.notes,
    }
