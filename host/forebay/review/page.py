"""The review as one page: HTML that needs no network, no script and no other file."""

from html import escape

from forebay.balance.model import ENERGIES, STEPS, WATER
from forebay.balance.ways import UNKNOWN
from forebay.paper import CAUTION, document, section
from forebay.review.figures import J_PER_WH, LEGEND, figure, pair
from forebay.review.gather import Review
from forebay.review.lacking import closures, is_only_switched, untold
from forebay.review.plot import svg
from forebay.review.text import PERCENT


def page(review: Review) -> str:
    """Return the whole page as HTML text."""
    begin = review.time(review.balance.begin_utc_s, "%d %B %Y %H:%M")
    covers = review.covers("%d %B %Y %H:%M")
    title = f"{review.name}, {begin}"
    body = "\n".join(
        [
            f"<header><h1>{escape(review.name)}</h1>",
            f'<div class="when">{escape(covers)}</div>',
            f'<p class="lead">{escape(_lead(review))}</p></header>',
            section("Over time", svg(review)),
            section("Energy", _energy(review)),
            section("Water", _quantities(WATER, review.balance.water, review.balance.told, "L",
                                          1.0) + _legend(review)),
            section("Does it close?", _closures(review)),
            _untold(review),
            section("Events", _events(review)),
            section("Assumed, bridged or left out", _notes(review)),
            _lacking(review),
            section("Caution", f'<p class="caution">{escape(CAUTION)}</p>'),
        ]
    )
    return document(title, body)


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
    return section("What this rig cannot tell", f"<ul>{items}</ul>")


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
    return section("What this rig lacks, and what is in its place",
                    f"<pre>{escape(chr(10).join(review.lacking))}</pre>")


def _notes(review):
    if not review.notes:
        return "<p>Nothing.</p>"
    return "<ul>" + "".join(f"<li>{escape(note)}</li>" for note in review.notes) + "</ul>"
