"""The review as one page: HTML that asks nothing of any network, and one file.

The plot is drawn by a library that lies in the page; all that it shows stands in tables too.
"""

import json
import re
from html import escape
from importlib.resources import files

from forebay.balance.ways import UNKNOWN
from forebay.paper import CAUTION, document, section
from forebay.review import equivalents
from forebay.review.bars import bars
from forebay.review.figure import LANES, figure, missing
from forebay.review.figures import LEGEND, pair
from forebay.review.figures import figure as number
from forebay.review.finding import GRAVITIES
from forebay.review.firsts import FIRST_TRIP, LACKS, NOTES, banner, first_trip, firsts, hours
from forebay.review.gather import Review
from forebay.review.lacking import closures, untold, verdicts
from forebay.review.tables import tables
from forebay.review.values import values_table
from forebay.review.words import ROUTINE, WEIGHTS

# The browser itself refuses whatever would be fetched.
NOTHING_LOADED = ('<meta http-equiv="Content-Security-Policy" content="default-src \'none\';'
                  " style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data: blob:"
                  '">\n')
COMMAND = re.compile("`([^`]+)`")
MOST_ROUTINE = 1000   # events of daily work in the list; the page stays small
MOVES = (("whole", "Whole time"), ("earlier", "Earlier"), ("later", "Later"),
         ("closer", "Closer"), ("wider", "Wider"))


def page(review: Review) -> str:
    """Return the whole page as HTML text."""
    begin = review.time(review.balance.begin_utc_s, "%d %B %Y %H:%M")
    covers = review.covers("%d %B %Y %H:%M")
    drawn = figure(review)
    body = "\n".join(filter(None, [
        '<a class="skip" href="#first">To what matters first</a>',
        f"<header><h1>{escape(review.name)}</h1>",
        f'<div class="when">{escape(covers)} ({escape(review.offset())})</div>',
        _banner(review), "</header>", '<main>',
        _firsts(review),
        section("Over time", _plot(review, drawn)),
        _first_out(review),
        section("Where the energy went", _bars(review)),
        *[section(one.title, _table(one)) for one in tables(review.balance)],
        _legend(review),
        section("Does it close?", _closures(review)),
        _untold(review),
        review.trend.html if review.trend else "",
        review.expected.html if review.expected else "",
        section("In everyday terms", _equivalents(review)),
        _told(review),
        section("Events", _events(review)),
        section("Assumed, bridged or left out", _notes(review)),
        _lacking(review),
        section("Caution", f'<p class="caution">{escape(CAUTION)}</p>'),
        "</main>\n"]))
    return document(f"{review.name}, {begin}", _signs(body) + _scripts(drawn),
                    _beside("page.css"), NOTHING_LOADED)


def _signs(text):
    """Return a text with the signs that a terminal may lack."""
    return text.replace("+-", "\u00b1").replace("degC", "\u00b0C")


def _beside(name):
    """Return the text of a file beside this one."""
    return files("forebay.review").joinpath(name).read_text(encoding="utf-8")


def _scripts(drawn):
    if drawn is None:
        return ""
    # A fifth of a second: only a page pays it.
    from plotly.offline import get_plotlyjs

    # In a script element only this ends it, and JSON may write the letter so.
    data = _signs(json.dumps(drawn, separators=(",", ":"))).replace("</", "<\\/")
    return (f'<script type="application/json" id="figure">{data}</script>\n'
            f"<script>{get_plotlyjs()}</script>\n<script>{_beside('page.js')}</script>")


def _banner(review):
    lines = banner(review)
    if not lines:
        return ""
    first, _, rest = lines[0].partition(":")
    told = [f"<p><strong>{escape(first)}</strong>:{escape(rest)}</p>",
            *[f"<p>{escape(line)}</p>" for line in lines[1:]]]
    assumed = [line for one in review.rehearsed for line in one.assumed]
    items = "".join(f"<li>{escape(line)}</li>" for line in assumed)
    told.append(f"<details><summary>What was assumed</summary><ul>{items}</ul></details>"
                if assumed else "")
    return f'<div class="banner" role="note">{"".join(told)}</div>'


def _firsts(review):
    items = []
    for place, (grade, what, do) in enumerate(firsts(review)):
        style = _style(review, place, grade)
        what_to_do = f' <span class="do">{_coded(do)}</span>' if do else ""
        items.append(f'<li class="{style}"><span class="grade">{escape(grade)}</span>'
                     f"{escape(what)}{what_to_do}</li>")
    return ('<section id="first" tabindex="-1"><h2>What matters first</h2>\n<ol class="firsts">'
            + "\n".join(items) + f"</ol>\n<p>{escape(hours(review))}</p></section>")


def _coded(text):
    """Return a text as HTML, what stands between backquotes as a command."""
    return COMMAND.sub(r"<code>\1</code>", escape(text))


def _style(review, place, grade):
    if place == 0 and review.verdict:
        return "verdict good" if review.verdict.good else "verdict"
    return f"g{GRAVITIES.index(grade)}" if grade in GRAVITIES else "clear"


def _plot(review, drawn):
    if drawn is None:
        return "<p>No row of the journal has a known time, so there is no plot.</p>"
    names = [one["text"] for one in drawn["layout"]["annotations"]
             if one.get("yref") == "paper" and one["x"] == 0]
    boxes = "".join(
        f'<label><input type="checkbox" data-lane="{lane}" checked> {escape(name)}</label>'
        for lane, name in enumerate(LANES))
    moves = "".join(f'<button type="button" data-move="{move}">{escape(name)}</button>'
                    for move, name in MOVES)
    lacks = missing(review)
    absent = (f"<p class=\"soft\">Not read by this rig, so without a curve:"
              f" {escape('; '.join(lacks))}.</p>" if lacks else "")
    return (
        f'<div class="controls onscreen"><fieldset><legend>Show events:</legend>{boxes}</fieldset>'
        f'</div>\n<div class="controls onscreen">{moves}</div>\n'
        f'<figure><div id="plot" role="img" style="min-height:{drawn["height"]}px"'
        f' aria-label="{escape("; ".join(names))}, over time. The same values stand in the table'
        ' below."></div><figcaption class="soft">Every curve over the same time. Marks at the top:'
        " events by weight, and your notes; the words for each are in the list of events."
        "</figcaption></figure>"
        f"<noscript><p>The plot is drawn by a script that lies in this page. Its values are in the"
        f" table.</p></noscript>\n{absent}{values_table(review)}")


def _first_out(review):
    one, said = review.first_out, first_trip(review)
    if one is None or said is None:
        return ""
    rows = "".join(f"<tr><td>{escape(tag)}</td><td>{escape(plain)}</td>"
                   f'<td class="n">{escape(text)}</td></tr>'
                   for tag, plain, text in [*one.readings, *one.contacts])
    return section(FIRST_TRIP, (
        f"<p>{escape(said[0])} <strong>{escape(said[1])}</strong></p>\n"
        "<p class=\"soft\">What came after it may come of it. This is what the board read in that"
        " very scan:</p>\n"
        "<details><summary>All that was read</summary>"
        '<div class="scroll" tabindex="0" role="region" aria-label="Readings of the first trip">'
        f"<table><caption>Readings of the scan that tripped</caption>"
        f'<tr><th scope="col">tag</th><th scope="col">what</th><th scope="col" class="n">read'
        f"</th></tr>{rows}</table></div></details>"))


def _bars(review):
    found = bars(review.balance)
    if not found:
        return "<p>No energy is known well enough for a drawing; the table says what is.</p>"
    items = []
    for bar in found:
        scaled = "".join(
            f'<span class="fill-{part.style}"'
            f' style="width:{min(part.share / bar.share, 1.0):.4%}"></span>' for part in bar.parts)
        parts = "".join(
            f'<li><span class="key fill-{part.style}" aria-hidden="true"></span>'
            f'{escape(part.label)}: <span class="value">{escape(part.text)}</span></li>'
            for part in bar.parts)
        items.append(
            f"<dt>{escape(bar.label)}<br><span class=\"value\">{escape(bar.text)}</span></dt>"
            f'<dd><div class="bar" style="width:{bar.share:.4%}" aria-hidden="true">{scaled}</div>'
            f'<ul class="parts">{parts}</ul></dd>')
    return (f'<dl class="bars">{"".join(items)}</dl>\n<p class="soft">All bars have one scale.'
            " Hatched: what remains. It is called lost only where it is a loss.</p>")


def _legend(review):
    spread = "Every +- is two standard uncertainties."
    said = f"{spread} {LEGEND}" if review.balance.has_models else spread
    return f'<p class="soft">{escape(said)}</p>'


def _region(label, table):
    """Return a table that may be scrolled, by keyboard as well."""
    return (f'<div class="scroll" tabindex="0" role="region" aria-label="{escape(label)}">'
            f"{table}</div>")


def _table(one):
    """Return a table of figures, and by what each is known where a model gives some of them."""
    shown = [(label, one.told[key], number(one.values[key], one.told[key], one.scale))
             for key, label in one.rows]
    is_said = any(_how(told, each) for _, told, each in shown)
    head = '<th scope="col">how it is known</th>' if is_said else ""
    lines = [f'<tr><th scope="col">what</th><th scope="col" class="n">{one.unit}</th>'
             f'<th scope="col" class="n">+- 2 u</th>{head}</tr>']
    for label, told, (value, spread, mark) in shown:
        how = f'<td class="soft">{escape(_how(told, (value, spread, mark)))}</td>'
        lines.append(
            f'<tr><td>{escape(label)}</td><td class="n">{value}</td>'
            f'<td class="n">{f"{spread} {mark}".strip()}</td>'
            f'{how if is_said else ""}</tr>'
        )
    note = f'<p class="soft">{escape(one.note)}</p>' if one.note else ""
    return _region(one.title, '<table class="figures">' + "\n".join(lines) + "</table>") + note


def _how(told, shown):
    """Return by what a figure is known that no meter gives, "" for one that a meter does."""
    value, _, mark = shown
    return told.by if mark or value == UNKNOWN else ""


def _closures(review):
    lines = ['<tr><th scope="col">left over</th><th scope="col" class="n">how much</th>'
             '<th scope="col" class="n">+- 2 u</th><th scope="col">so</th></tr>']
    for label, value, (scale, unit), said in closures(review.balance):
        left, spread = pair(value, scale) if value is not None else ("", "")
        lines.append(
            f'<tr><td>{escape(label)}</td><td class="n">{left} {unit if left else ""}</td>'
            f'<td class="n">{spread}</td><td>{escape(said)}</td></tr>'
        )
    said = "".join(f"<p>{escape(line)}</p>" for line in verdicts(review.balance))
    return _region("Residuals", "<table>" + "\n".join(lines) + "</table>") + said


def _equivalents(review):
    lines = equivalents.lines(review.balance)
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return (f"<ul>{items}</ul><p class=\"soft\">{escape(equivalents.SOURCES)}</p>"
            if lines else "<p>No light, or none whose energy is known.</p>")


def _untold(review):
    lines = untold(review.balance)
    if not lines:
        return ""
    items = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return section("What this rig cannot tell", f"<ul>{items}</ul>")


def _told(review):
    if not review.told:
        return ""
    items = "".join(f"<li>{escape(review.time(one.utc_s, '%d %b %Y %H:%M'))}:"
                    f" {escape(one.text)}</li>" for one in review.told)
    return section(NOTES, f"<ul>{items}</ul>")


def _events(review):
    if not review.events:
        return "<p>None.</p>"
    shown, left = [], 0
    for one in review.events:
        if one.weight == ROUTINE and sum(each.weight == ROUTINE for each in shown) >= MOST_ROUTINE:
            left += 1
            continue
        shown.append(one)
    lines = [
        f'<tr data-lane="{one.weight}"><td>{review.time(one.utc_s, "%d %b %H:%M:%S")}</td>'
        f'<td class="weight">{escape(WEIGHTS[one.weight])}</td>'
        f'<td{" class=grave" if one.grave else ""}>{escape(one.text)}</td></tr>'
        for one in shown
    ]
    more = f"<p>{left} more of daily work are left out here.</p>" if left else ""
    head = '<tr><th scope="col">when</th><th scope="col">weight</th><th scope="col">what</th></tr>'
    return f'<table class="happened">{head}' + "\n".join(lines) + f"</table>{more}"


def _lacking(review):
    if not review.lacking:
        return ""
    return section(LACKS,
                   f'<pre tabindex="0">{escape(chr(10).join(review.lacking))}</pre>')


def _notes(review):
    if not review.notes:
        return "<p>Nothing.</p>"
    return "<ul>" + "".join(f"<li>{escape(note)}</li>" for note in review.notes) + "</ul>"
