"""A plan as one page: the parts of the terminal in its order, with plots where they help."""

from collections.abc import Sequence
from html import escape
from typing import Any

from forebay.explain.plot import Curve, Strip, plot
from forebay.paper import CAUTION, document, section
from forebay.plan.answers import Part, Table
from forebay.plan.planning import Plan
from forebay.plan.text import rows_of, shown_value, unit_of_column, value_of
from forebay.showing import METRIC, System, in_unit

STYLE = """
.figures td:first-child { width: 45%; } .figures td:nth-child(2) { white-space: nowrap; }
.note { color: var(--soft); } th { vertical-align: bottom; } th.n { white-space: normal; }
.first td:first-child { white-space: nowrap; } h3 { font-size: 1rem; margin: 1.2rem 0 .3rem; }
figure { margin: .8rem 0; max-width: 34rem; }
svg text { font-size: 12px; } svg .tick { fill: var(--soft); }
svg path.second { stroke-dasharray: 7 4; } svg path.third { stroke-dasharray: 2 4; }
@media print { body { font-size: 12px; padding: 0; } .scroll { overflow: visible; }
  section { break-inside: auto; } tr, figure { break-inside: avoid; }
  h2, h3 { break-after: avoid; } @page { size: A4; margin: 14mm; } }
@media (max-width: 30rem) { body { padding: 1rem .9rem 2rem; } th, td { padding: .2rem .3rem; } }
"""
DASHES = ("", "second", "third")


def page(plan: Plan, system: System = METRIC) -> str:
    """Return the whole page as HTML text."""
    body = [f"<header><h1>{escape(plan.rig.rig.name)}: plan</h1></header>\n<main>"]
    body += [section(escape(part.title), _part(part, system)) for part in plan.parts]
    body.append(section("What this rests on", _list(plan.notes)))
    body.append(section("Caution", f'<p class="caution">{escape(CAUTION)}</p>') + "\n</main>")
    return document(f"{plan.rig.rig.name}, plan", "\n".join(body), STYLE)


def _part(part: Part, system: System) -> str:
    found = [f'<p class="grave">{escape(one)}</p>' for one in part.warns]
    if part.figures:
        rows = "\n".join(
            f"<tr><td>{escape(one.name)}</td><td>{escape(shown_value(one, system))}</td>"
            f'<td class="note">{escape(one.note)}</td></tr>' for one in part.figures)
        found.append('<div class="scroll" tabindex="0"><table class="figures">'
                     f"<tbody>{rows}</tbody></table></div>")
    found += [f"<p>{escape(one)}</p>" for one in part.says]
    for table in part.tables:
        found.append(f"<h3>{escape(table.title)}</h3>")
        if table.key in PLOTTED:
            found.append(f"<figure>{_plot(table, system)}</figure>")
        found.append(_table(table, system))
    return "\n".join(found)


def _list(lines: Sequence[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(one)}</li>" for one in lines) + "</ul>"


def _table(table: Table, system: System) -> str:
    headings, rows = rows_of(table, system)
    shown = [one for one in table.columns if one.dimension != "hidden"]
    kinds = ["" if one.dimension == "text" else ' class="n"' for one in shown]
    head = "".join(f'<th scope="col"{kind}>{escape(one)}</th>' if one else "<td></td>"
                   for one, kind in zip(headings, kinds, strict=True))
    body = "\n".join("<tr>" + "".join(
        f"<td{kind}>{escape(one)}</td>" for one, kind in zip(row, kinds, strict=True)) + "</tr>"
        for row in rows)
    note = f'<p class="soft">{escape(table.note)}</p>' if table.note else ""
    return ('<div class="scroll" tabindex="0"><table class="first"><thead><tr>'
            f"{head}</tr></thead>\n<tbody>{body}</tbody></table></div>{note}")


def _values(table, key, system) -> tuple[str, list[Any]]:
    """Return (unit, values in it) of a column, None where there is none."""
    place = next(number for number, one in enumerate(table.columns) if one.key == key)
    column = table.columns[place]
    raw = [value_of(row[place]) for row in table.rows]
    unit = unit_of_column(raw, column, system)
    if not unit:
        return "", raw
    return unit, [None if one is None else in_unit(one, column.dimension, unit) for one in raw]


# Tables that are drawn, too: the column of x (None = the rows' numbers), then strips, each with
# its title and its columns.
PLOTTED = {
    "months": (None, (("lifted on a day", ("clear_m3", "broken_m3", "overcast_m3")),)),
    "nights": (None, (("hours of light", ("clear_s", "broken_s", "overcast_s")),)),
    "openings": ("opening_frac", (("light", ("full_W", "empty_W")),
                                  ("a litre gives", ("specific_J_m3",)))),
    "nozzles": ("nozzle_m", (("most light, tank nearly empty", ("empty_W",)),
                             ("dimmest step lasts", ("dimmest_s",)))),
}


def _plot(table: Table, system: System) -> str:
    x_key, strips = PLOTTED[table.key]
    if x_key is None:
        x_title = "month"
        xs: list[Any] = [float(one) for one in range(1, len(table.rows) + 1)]
    else:
        unit, xs = _values(table, x_key, system)
        x_title = f"{_named(table, x_key)} [{unit}]"
    drawn = []
    for title, keys in strips:
        curves, unit = [], ""
        for key, dash in zip(keys, DASHES, strict=False):
            unit, ys = _values(table, key, system)
            points = [(x, y) for x, y in zip(xs, ys, strict=True) if y is not None]
            if points:
                curves.append(Curve(points, f"lamp {dash}".strip(),
                                    _named(table, key) if len(keys) > 1 else ""))
        if curves:
            drawn.append(Strip(f"{title} [{unit}]", curves))
    if not drawn:
        return ""
    told = "; ".join(f"{strip.title}: {', '.join(one.name for one in strip.curves if one.name)}"
                     .rstrip(": ") for strip in drawn)
    return plot(table.key, table.title, f"The table below as curves: {told}.", x_title,
                max(xs), drawn)


def _named(table, key):
    return next(one.name for one in table.columns if one.key == key)
