"""A page that is one file: its look in light, in dark and on paper, its frame, its axes.

Needs no network, no script and no other file.  Knows nothing of what is shown.
"""

import math
from html import escape

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

CAUTION = (
    "Hobby-grade, not a safety-rated system: it must not be the only thing that keeps water,"
    " heat or current in bounds. Electrics near water, loads on a stand and pressure in pipes"
    " follow your local codes; where they ask for a licensed person, so do we."
)


def document(title: str, body: str, style: str = "", head: str = "") -> str:
    """Return a whole page as HTML text; title: plain text; style: rules beside STYLE.

    body, head: HTML; a script in it is the caller's.
    """
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n{head}'
        f"<title>{escape(title)}</title>\n<style>{STYLE}{style}</style>\n</head>\n"
        f"<body>\n{body}\n</body>\n</html>\n"
    )


def section(heading: str, content: str) -> str:
    """Return one section of a page; both as HTML."""
    return f"<section><h2>{heading}</h2>\n{content}\n</section>"


def nice_step(highest: float, most: int = 4) -> float:
    """Return a step of 1, 2 or 5 times a power of ten with at most `most` steps to `highest`."""
    if highest <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(highest / most))
    return next(power * k for k in (1, 2, 5, 10) if highest / (power * k) <= most + 1e-9)
