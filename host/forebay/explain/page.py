"""The page: what stands where, as HTML that needs no network, no script and no other file."""

import re
from html import escape

from forebay.explain import bars, curves, drawing, words
from forebay.explain.everyday import CELL_J
from forebay.explain.facts import Facts
from forebay.explain.guards import guards
from forebay.explain.saying import printed, saying
from forebay.paper import CAUTION, document, section
from forebay.showing import METRIC, System
from forebay.words.protection import ACTIONS

TITLE = "Light from lifted water"
# The id of an element stays on one line.
ELEMENT, UNBROKEN = re.compile(r"\(\d+\w*-\w+\)"), r'<span class="id">\g<0></span>'
STYLE = """
:root { --water: #bcd9e8; --deep: #7fb0cc; --wall: #22282b; }
@media (prefers-color-scheme: dark) { :root {
  --water: #2c4f63; --deep: #44809e; --wall: #e7e6e0; } }
@media print { :root { --water: #cfe3ee; --deep: #8fbad2; --wall: #000; }
  @page { size: A4; margin: 14mm; }
  html { font-size: 12.5px; }
  body { padding: 0; font-size: 1rem; line-height: 1.4; max-width: none; }
  h2 { margin-top: 1.5rem; }
  section { break-inside: auto; } h2, h3, h2 + p, caption, .bars .head { break-after: avoid; }
  figure, .guards > div, .bars tr, .cautions > div, li, p { break-inside: avoid; } }
.lead { max-width: 46rem; }
p { margin: .6rem 0; } p, ul, ol { max-width: 46rem; }
figure { margin: .8rem 0; max-width: 34rem; }
figcaption { color: var(--soft); font-size: .9rem; }
.pair { display: grid; grid-template-columns: 1fr; gap: 0 2rem; align-items: start; }
@media (min-width: 46rem) { .pair { grid-template-columns: 1fr 1fr; } }
@media print { .pair { grid-template-columns: 1fr 1fr; } }
.pair > * { min-width: 0; }
@media (max-width: 30rem) { body { padding: 1rem .9rem 2rem; }
  th, td { padding: .2rem .2rem; } }
h3 { font-size: 1rem; margin: 1rem 0 .3rem; }
svg text { font-size: 12px; fill: var(--ink); paint-order: stroke; stroke: var(--paper);
  stroke-width: 3px; }
svg .tick { fill: var(--soft); } svg .strong { font-weight: bold; }
svg .curve { stroke-width: 2; }
svg path.plain { stroke: var(--soft); stroke-dasharray: 2 4; }
svg path.low { stroke-dasharray: 7 4; }
svg .mark { fill: var(--paper); stroke: var(--ink); stroke-width: 2; }
svg rect.water { fill: var(--water); } svg rect.deep { fill: var(--deep); }
svg .wall { fill: none; stroke: var(--wall); stroke-width: 1.5; }
svg .pipe { fill: none; stroke-width: 2.5; stroke-linejoin: round; }
svg .pipe.up { stroke: var(--pump); } svg .pipe.down { stroke: var(--level);
  stroke-dasharray: 9 3; }
svg .machine { fill: var(--paper); stroke: var(--ink); stroke-width: 1.5; }
svg path.panel { stroke: var(--panel); stroke-width: 4; }
svg .person { fill: var(--soft); } svg .limbs { fill: none; stroke: var(--soft); stroke-width: 2;
  stroke-linecap: round; }
svg .ground, svg .leader { fill: none; stroke: var(--soft); stroke-width: 1; }
svg .tag { fill: var(--paper); stroke: var(--ink); } svg .tagged { font-weight: bold; }
svg .reach { stroke: var(--rule); stroke-width: 2; } svg .reach.this { stroke: var(--lamp); }
svg .place { fill: var(--soft); } svg .place.this { fill: var(--lamp); }
.bars caption { text-align: left; color: var(--soft); padding-bottom: .3rem; }
.bars th[scope="row"] { color: var(--ink); width: 99%; } .bars td { vertical-align: top; }
.bars .head th { color: var(--ink); font-weight: bold; padding-top: .8rem; }
svg.bar { height: .7rem; width: 100%; margin-top: .2rem; }
svg.bar rect { fill: var(--level); } svg.bar rect.lamp { fill: var(--lamp); }
svg.bar rect.panel { fill: var(--panel); } svg.bar rect.board { fill: var(--pump); }
svg.bar rect.lost { fill: none; stroke: var(--soft); vector-effect: non-scaling-stroke; }
.guards { columns: 2 19rem; column-gap: 2rem; } .guards > div { break-inside: avoid; }
.guards h3 { margin-top: 0; padding-top: .8rem; } .id { white-space: nowrap; }
dt { color: var(--soft); margin-top: .3rem; } dd { margin: 0 0 0 .9rem; }
dd ul { margin: 0; padding-left: 1.1rem; }
"""


def page(facts: Facts, system: System = METRIC) -> str:
    """Return the whole page as HTML text, its quantities in a system of units."""
    said = saying(system)
    measure = said.everyday.measure
    body = "\n".join([
        f"<header><h1>{TITLE}: {escape(facts.name)}</h1>",
        f'<p class="lead">{escape(" ".join(words.lead(facts, said)))}</p></header>\n<main>',
        section("How high, how large", _drawn(facts, said)),
        section("An amount, and a rate", _amount(facts, said)),
        section("How long the light lasts", _pair(
            _paragraphs(words.lasting(facts, said)) + _lights(facts, said),
            curves.hours_svg(facts, said), "Hours of light from a full tank at each"
            f" brightness. The dotted line is what it would be if each {measure} gave the same.")),
        section("Why half the flow is not half the light", _pair(
            _paragraphs(words.half_flow(facts, said)), curves.valve_svg(facts, said), "Light, flow"
            f" and joules a {measure} over the valve's travel, from shut (0) to open (100). Full"
            " lines: under a full tank; dashed: under one that is nearly empty.")),
        section("Where the joules go", _paragraphs(words.joules(facts, said))
                + _bars(facts, said)),
        section("What keeps it in bounds", _guards(facts, said)),
        section("From a bucket to a reservoir", _scale(facts, said)),
        section("What can hurt someone", _cautions(facts, said)),
        section("What this page takes for granted", _list(words.assumptions(facts, said))),
        "</main>"])
    return document(f"{TITLE}: {facts.name}", body, STYLE)


def _paragraphs(texts):
    return "\n".join(f"<p>{escape(one)}</p>" for one in texts)


def _list(texts, kind="ul"):
    items = "".join(f"<li>{ELEMENT.sub(UNBROKEN, escape(one))}</li>" for one in texts)
    return f"<{kind}>{items}</{kind}>"


def _figure(svg, caption):
    return f"<figure>{svg}\n<figcaption>{escape(caption)}</figcaption></figure>"


def _pair(content, svg, caption):
    return f'<div class="pair"><div>{content}</div>\n{_figure(svg, caption)}</div>'


def _drawn(facts, said):
    values = facts.values
    told = (
        f"{said(values['upper.overflow_volume_m3'], 'volume')} at its overflow, its floor"
        f" {said(values['upper.base_height_m'], 'length')} above the nozzle",
        f"its floor {said(-values['lower.base_height_m'], 'length')} below the nozzle",
        f"{said(values['rising_main.length_m'], 'length')} of pipe,"
        f" {said(values['rising_main.diameter_m'], 'length')} wide inside; in full sun"
        f" {said(facts.fill_m3_s, 'flow')} go up",
        f"{said(values['panel.power_W'], 'power')} at most; its size is reckoned from that",
        f"{said(values['penstock.length_m'], 'length')} of pipe,"
        f" {said(values['penstock.diameter_m'], 'length')} wide inside",
        f"a jet of {said(values['turbine.nozzle_diameter_m'], 'length')} on a wheel of"
        f" {said(2 * values['turbine.wheel_radius_m'], 'length')}; the nozzle is height 0")
    parts = [f"{name}: {one}" for name, one in zip(drawing.PARTS, told, strict=True)]
    far = _figure(drawing.rig_svg(facts, said), "Heights and sizes are to scale, turbine and pump"
                  " no smaller than can be seen; the way between the tanks is drawn shorter. Light"
                  " blue is water that comes and goes, dark blue what stays.")
    near = _figure(drawing.tank_svg(facts, said), "The upper tank near by, to a scale of its own.")
    return f'<div class="pair">{far}\n<div>{_list(parts, "ol")}{near}</div></div>'


def _amount(facts, said):
    alike = [f"{one.text} ({one.source})" for one in words.alike(facts, said)]
    return _paragraphs(words.amount_and_rate(facts, said)) + (
        f"<h3>As much as the full tank is in</h3>{_list(alike)}")


def _lights(facts, said):
    rows = "\n".join(
        f'<tr><th scope="row">{said(one.lamp_W, "power")}</th>'
        f'<td class="n">{said(one.hours_s, "time")}</td>'
        f'<td class="n">{said(one.J_m3, "energy by volume")}</td>'
        f'<td class="n">{said(one.of_store, "ratio")}</td></tr>' for one in facts.lights)
    return ('<table><thead><tr><th scope="col">brightness</th><th scope="col" class="n">lasts</th>'
            f'<th scope="col" class="n">a {said.everyday.measure} gives</th><th scope="col"'
            f' class="n">of the store</th></tr></thead>\n<tbody>{rows}</tbody></table>')


def _bars(facts, said):
    rows: list[bars.Bar | bars.Heading] = [bars.Heading("By day, up to the tank")]
    rows += [_bar(step, facts.sun_scale_s, "panel" if not place else "level")
             for place, step in enumerate(facts.up)]
    rows.append(bars.Heading("In the evening, down to the lamps"))
    last = len(facts.down) - 1
    rows += [_bar(step, facts.night_scale_s, "lamp" if place == last else "level")
             for place, step in enumerate(facts.down)]
    rows += [bars.Heading("Beside it, day and night"),
             bars.Bar("the board itself, in 24 h", "", facts.board_day_J, 0.0, "board")]
    return bars.table("One full tank, all bars on one scale. Filled: what is left; outlined:"
                      " what that step loses.", rows, said)


def _bar(step, scale_s, style):
    lost = [(name, power * scale_s) for name, power in step.losses if power > 0.0]
    return bars.Bar(step.name, "; ".join(name for name, _ in lost), step.W_out * scale_s,
                    sum(one for _, one in lost), style)


def _guards(facts, said):
    found = guards(facts.values, said)
    cards = "\n".join(
        f"<div><h3>{escape(one.name)}</h3><p>{escape(one.harm)}</p><dl>"
        f"<dt>Without the board</dt><dd>{_list(one.hardware)}</dd>"
        f"<dt>The board, where this rig has what it reads</dt><dd>{_list(one.board)}</dd>"
        f"<dt>A person</dt><dd>{_list(one.person)}</dd></dl></div>" for one in found)
    acts = _list(f"{one.name}: {one.plain}" for one in ACTIONS.values())
    return (_paragraphs(["Three layers, each for when the one before it fails: parts that act"
                         " with the board taken away, the board, and somebody who looks."])
            + f'<div class="guards">{cards}</div><h3>What the board then does</h3>{acts}')


def _scale(facts, said):
    things = said.everyday
    millions = printed(things.reservoir.replace(" ", " million ", 1))
    places = (
        bars.Place(f"a bucket of {things.bucket} lifted by {things.bucket_up}", things.bucket_J),
        bars.Place(f"a person of {things.weighs}, one storey up", things.stairs_J),
        bars.Place("a rechargeable AA cell", CELL_J),
        bars.Place("this rig's full tank", facts.store_J, is_this=True),
        bars.Place(f"a {things.measure} of water brought to the boil", things.boiled_J),
        bars.Place(f"a reservoir: {millions}, {things.reservoir_up} up", things.reservoir_J))
    return _pair(_paragraphs([
        "Each line to the right is ten times as much. The law is the same for all that is lifted:"
        " mass, times the pull of the earth, times height.",
        f"The reservoir holds {said(things.reservoir_J, 'energy in hours')}, as much as"
        f" {_count(things.reservoir_J / facts.store_J)} of this rig's tanks. Lifted water holds"
        " little for its weight: that is why it is done on the scale of valleys, and why here it"
        " lights lamps and no kettle."]),
        bars.scale_svg("scale", "Stored energy, each line ten times the last", places, said),
        "Energy on a scale by powers of ten; masses and heights as written, free fall 9.80665"
        " m/s\N{SUPERSCRIPT TWO}, nothing lost.")


def _count(number):
    return f"{float(f'{number:.2g}'):,.0f}".replace(",", "\N{NO-BREAK SPACE}")


def _cautions(facts, said):
    cards = "".join(f"<div><h3>{escape(name)}</h3><p>{escape(text)}</p></div>"
                    for name, text in words.cautions(facts, said))
    return f'<p class="caution">{escape(CAUTION)}</p><div class="guards cautions">{cards}</div>'
