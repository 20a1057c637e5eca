"""A judged day in a terminal, in 80 columns and without colour, and as a section of a page."""

import textwrap
from datetime import tzinfo
from html import escape

from forebay.expected.figures import BY_KEY
from forebay.expected.judging import (
    AS_EXPECTED,
    BETTER,
    CANNOT_TELL,
    NOT_KNOWN,
    WORSE,
    Judged,
    Row,
)
from forebay.paper import section
from forebay.shelf.local import iso_local

WIDTH = 80
COVERING = 2.0           # standard uncertainties beside a value, as everywhere
SAID = {
    AS_EXPECTED: "The day was as expected.",
    WORSE: "The day was worse than expected",
    BETTER: "The day was better than expected.",
    CANNOT_TELL: "It cannot be told whether the day was as expected.",
    NOT_KNOWN: "What the day should have been is not known.",
}

NO_SUN = (" No record tells that day's sun: no meter reads the panel. Name a file of it: `forebay"
          " expect --sun FILE`.")
HELD = "The day was not as on other days: only the time that the rig ran was as expected."


def lead(judged: Judged, zone: tzinfo, is_held: bool = False) -> str:
    """Return the verdict in one sentence; is_held: whether something kept the rig from running."""
    said = HELD if is_held and judged.verdict == AS_EXPECTED else SAID[judged.verdict]
    if judged.verdict == NOT_KNOWN and judged.conditions.sun is None:
        return said + NO_SUN
    if judged.verdict != WORSE:
        return said
    worst = [f"{BY_KEY[one.key].label} {_off(one)}" for one in judged.rows
             if one.verdict == WORSE]
    since = ("" if judged.since_s is None else
             f", from {iso_local(judged.since_s, zone, '%H:%M')} on")
    return f"{said}: {', '.join(worst)}{since}."


def _off(row: Row) -> str:
    """Return by how much a row is off, with its uncertainty."""
    figure = BY_KEY[row.key]
    assert row.expected is not None
    if row.key in ("hottest_degC", "end_L") or not row.expected.value:
        return f"{row.off * figure.scale:+.3g} +- {COVERING * row.u * figure.scale:.2g} K" if (
            row.key == "hottest_degC") else f"{row.off:+.0f} +- {COVERING * row.u:.0f} L"
    wide = COVERING * row.u / abs(row.expected.value)
    return f"{100 * row.off_frac:+.0f} +- {100 * wide:.0f} %"


def _pair(found, figure):
    if found is None:
        return "-"
    return (f"{found.value * figure.scale:.{figure.digits}f}"
            f" +- {COVERING * found.u * figure.scale:.{figure.digits}f}")


def lines(judged: Judged, zone: tzinfo, is_held: bool = False) -> list[str]:
    """Return the judgement as lines of at most 80 columns, what matters first; as for `lead`."""
    found = judged.conditions
    when = f"{iso_local(found.begin_s, zone)} to {iso_local(found.end_s, zone)}"
    said = [f"Expected and actual, {when}", *_wrapped(lead(judged, zone, is_held))]
    for one in judged.causes:
        said += _wrapped(one)
    said += ["", f"  {'':28}{'expected':>18}{'was':>18}  verdict"]
    for row in judged.rows:
        figure = BY_KEY[row.key]
        said.append(f"  {f'{figure.label} [{figure.unit}]':30}{_pair(row.expected, figure):>16}"
                    f"{_pair(row.actual, figure):>16}  {row.verdict}".rstrip())
    said.append("")
    for why in dict.fromkeys(row.why for row in judged.rows if row.why and row.verdict in (
            NOT_KNOWN, CANNOT_TELL)):
        which = [BY_KEY[row.key].label for row in judged.rows if row.why == why]
        said += _wrapped(f"{', '.join(which)}: {why}.".capitalize())
    for note in _notes(judged):
        said += _wrapped(note)
    return said


def _notes(judged):
    """Return what stands behind the figures, a paragraph each."""
    by = "" if judged.conditions.sun is None else (
        f"Sun by {judged.conditions.by}; worked out by {judged.by}. ")
    return [f"{by}Every +- is two standard uncertainties.", *judged.notes]


def _wrapped(text):
    return textwrap.wrap(text, WIDTH - 2, initial_indent="  ", subsequent_indent="  ",
                         break_on_hyphens=False)


def html(judged: Judged, zone: tzinfo, is_held: bool = False) -> str:
    """Return the judgement as a section of a page; as for `lead`."""
    rows = ['<tr><th scope="col">figure</th><th scope="col" class="n">expected</th>'
            '<th scope="col" class="n">was</th><th scope="col">verdict</th></tr>']
    for row in judged.rows:
        figure = BY_KEY[row.key]
        verdict = f"{row.verdict}{f' ({row.why})' if row.why else ''}"
        mark = ' class="grave"' if row.verdict == WORSE else ""
        rows.append(f"<tr><td>{escape(figure.label)} [{escape(figure.unit)}]</td>"
                    f'<td class="n">{escape(_pair(row.expected, figure))}</td>'
                    f'<td class="n">{escape(_pair(row.actual, figure))}</td>'
                    f"<td{mark}>{escape(verdict)}</td></tr>")
    said = [lead(judged, zone, is_held), *judged.causes]
    return section("Expected and actual", "".join(f"<p>{escape(one)}</p>" for one in said)
                   + f'<div class="scroll" tabindex="0" role="region" aria-label="Expected and'
                   f' actual"><table>{"".join(rows)}</table></div>'
                   + "".join(f'<p class="soft">{escape(one)}</p>' for one in _notes(judged)))
