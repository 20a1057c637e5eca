"""The review as one page: HTML that needs no network, no script and no other file."""

from html import escape

from forebay.balance.model import ENERGIES, STEPS, WATER
from forebay.balance.ways import UNKNOWN
from forebay.review.figures import J_PER_WH, LEGEND, figure, pair
from forebay.review.gather import CAUTION, Review
from forebay.review.lacking import closures, is_only_switched, untold
from forebay.review.plot import svg
from forebay.review.text import PERCENT

STYLE = """
:root { color-scheme: light dark;
  --paper: #fbfaf6; --ink: #22282b; --soft: #66706f; --rule: #d8d6cc;
  --panel: #b7791f; --pump: #2b6cb0; --lamp: #b83280; --level: #23806f; --grave: #b3261e; }
@media (prefers-color-scheme: dark) { :root {
  --paper: #16191b; --ink: #e7e6e0; --soft: #9aa5a3; --rule: #353b3e;
  --panel: #e0a94a; --pump: #6fa8dc; --lamp: #e58bc4; --level: #5cc0ad; --grave: #ff8a80; } }
@media print { :root { color-scheme: light;
  --paper: #fff; --ink: #000; --soft: #444; --rule: #bbb;
  --panel: #8a5a10; --pump: #1f4f86; --lamp: #8a2560; --level: #155c4f; --grave: #900; }
  section { break-inside: avoid; } }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 2rem 1.25rem 3rem; max-width: 58rem; background: var(--paper);
  color: var(--ink); font: 16px/1.5 Georgia, "Times New Roman", serif; }
h1 { font-size: 1.9rem; font-weight: normal; margin: 0; }
h2 { font-size: 1.05rem; margin: 2.2rem 0 .6rem; border-bottom: 2px solid var(--ink);
  padding-bottom: .2rem; }
.when, .soft { color: var(--soft); }
.lead { font-size: 1.2rem; margin: 1rem 0 0; }
svg { width: 100%; height: auto; display: block; }
svg text { font: 11px system-ui, sans-serif; fill: var(--soft); }
svg .axis { fill: var(--ink); } .mid { text-anchor: middle; } .end { text-anchor: end; }
svg .grid { stroke: var(--rule); stroke-width: .7; }
svg .curve { fill: none; stroke-width: 1.7; stroke-linejoin: round; }
svg path.panel { stroke: var(--panel); } svg text.panel { fill: var(--panel); }
svg path.pump { stroke: var(--pump); } svg text.pump { fill: var(--pump); }
svg path.lamp { stroke: var(--lamp); } svg text.lamp { fill: var(--lamp); }
svg path.level { stroke: var(--level); } svg text.level { fill: var(--level); }
svg rect.pump { fill: var(--pump); } svg rect.lamp { fill: var(--lamp); }
svg rect.level { fill: var(--level); }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { padding: .2rem .5rem; border-bottom: 1px solid var(--rule); text-align: left; }
th { font-weight: normal; color: var(--soft); }
pre { overflow-x: auto; font: .85rem/1.4 ui-monospace, monospace; }
.n { text-align: right; white-space: nowrap; }
.scroll { overflow-x: auto; }
.grave { color: var(--grave); font-weight: bold; }
.happened td:first-child { white-space: nowrap; color: var(--soft); width: 1%; }
.caution { border-left: 4px solid var(--grave); padding: .2rem 0 .2rem .9rem; }
"""


def page(review: Review) -> str:
    """Return the whole page as HTML text."""
    begin = review.time(review.balance.begin_utc_s, "%d %B %Y %H:%M")
    covers = review.covers("%d %B %Y %H:%M")
    title = escape(f"{review.name}, {begin}")
    body = "\n".join(
        [
            f"<header><h1>{escape(review.name)}</h1>",
            f'<div class="when">{escape(covers)}</div>',
            f'<p class="lead">{escape(_lead(review))}</p></header>',
            _section("Over time", svg(review)),
            _section("Energy", _energy(review)),
            _section("Water", _quantities(WATER, review.balance.water, review.balance.told, "L",
                                          1.0) + _legend(review)),
            _section("Does it close?", _closures(review)),
            _untold(review),
            _section("Events", _events(review)),
            _section("Assumed, bridged or left out", _notes(review)),
            _lacking(review),
            _section("Caution", f'<p class="caution">{escape(CAUTION)}</p>'),
        ]
    )
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n{body}\n</body>\n"
        "</html>\n"
    )


def _section(heading, content):
    return f"<section><h2>{heading}</h2>\n{content}\n</section>"


def _lead(review):
    found = review.balance
    lamps, board = (f"{figure(found.energies[key], found.told[key], 1 / J_PER_WH)[0]} Wh"
                    for key in ("lamps", "board_load"))
    trips = "No trip." if not found.trips else f"Trips: {found.trips}."
    pumping = "with the pump switched on" if is_only_switched(found) else "of pumping"
    return (
        f"{found.light_h:.1f} h of light from {found.pump_h:.1f} h {pumping}:"
        f" {lamps} in the lamps. The board itself used {board}. {trips}"
    )


def _energy(review):
    found = review.balance
    energies = _quantities(ENERGIES, found.energies, found.told, "Wh", 1 / J_PER_WH)
    steps = _quantities(STEPS, found.steps, found.told, "%", PERCENT)
    return (
        f"{energies}\n<h3>Step efficiencies</h3>\n{steps}\n"
        '<p class="soft">Every +- is two standard uncertainties. What a step does not pass on'
        f" is its loss; it is a remainder, not a measurement.</p>{_legend(review)}"
    )


def _legend(review):
    return f'<p class="soft">{escape(LEGEND)}</p>' if review.balance.has_models else ""


def _quantities(rows, values, told, unit, scale):
    lines = [f'<tr><th></th><th class="n">{unit}</th><th class="n">+- 2 u</th></tr>']
    for key, label in rows:
        value, spread, mark = figure(values[key], told[key], scale)
        by = told[key].by if mark or value == UNKNOWN else ""
        why = f'<td class="soft">{escape(by)}</td>' if by else ""
        lines.append(
            f'<tr><td>{escape(label)}</td><td class="n">{value}</td>'
            f'<td class="n">{f"{spread} {mark}".strip()}</td>{why}</tr>'
        )
    return '<div class="scroll"><table>' + "\n".join(lines) + "</table></div>"


def _closures(review):
    lines = ['<tr><th>left over</th><th class="n"></th><th class="n">+- 2 u</th><th></th></tr>']
    for label, value, (scale, unit), said in closures(review.balance):
        left, spread = pair(value, scale) if value is not None else ("", "")
        lines.append(
            f'<tr><td>{escape(label)}</td><td class="n">{left} {unit if left else ""}</td>'
            f'<td class="n">{spread}</td><td>{escape(said)}</td></tr>'
        )
    return '<div class="scroll"><table>' + "\n".join(lines) + "</table></div>"


def _untold(review):
    lines = untold(review.balance)
    if not lines:
        return ""
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return _section("What this rig cannot tell", f"<ul>{items}</ul>")


def _events(review):
    if not review.events:
        return "<p>None.</p>"
    lines = [
        f'<tr><td>{review.time(one.utc_s, "%d %b %H:%M:%S")}</td>'
        f'<td{" class=grave" if one.grave else ""}>{escape(one.text)}</td></tr>'
        for one in review.events
    ]
    return '<table class="happened">' + "\n".join(lines) + "</table>"


def _lacking(review):
    if not review.lacking:
        return ""
    return _section("What this rig lacks, and what is in its place",
                    f"<pre>{escape(chr(10).join(review.lacking))}</pre>")


def _notes(review):
    if not review.notes:
        return "<p>Nothing.</p>"
    return "<ul>" + "".join(f"<li>{escape(note)}</li>" for note in review.notes) + "</ul>"
