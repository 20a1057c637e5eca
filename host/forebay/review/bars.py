"""The energy of a time as bars on one scale: one bar a step, what it splits into, what remains.

A remainder is called a loss only where it is one: what motor, pump, pipes, wheel and generator
do not pass on.  Where two meters share out what a third one read, what is left over is theirs.
"""

from dataclasses import dataclass

from forebay.balance import Balance
from forebay.balance.ways import BOUNDS, UNKNOWN
from forebay.review.figures import J_PER_WH, figure, pair

# whole, its label, its parts, what the remainder is called, whether that is a loss
STEPS = (
    ("panel", "out of the panel", ("pump", "charge"), "left over between three meters", False),
    ("pump", "into the pump", ("stored",), "lost in motor, pump and rising main", True),
    ("released", "released as water", ("generator",), "lost in penstock, wheel and generator",
     True),
    ("generator", "out of the generator", ("lamps", "clamp"), "left over between three meters",
     False),
    ("supply_out", "out of the buffer battery", (), "", False),
)
LABELS = {"pump": "into the pump", "charge": "into the charger", "stored": "stored as water",
          "generator": "out of the generator", "lamps": "into the lamps",
          "clamp": "into the clamp"}
STYLES = {"pump": "pump", "charge": "panel", "stored": "level", "generator": "level",
          "lamps": "lamp", "clamp": "panel"}
# Residuals that stand for a remainder, with their own uncertainty.
NODES = {"panel": "panel_node", "generator": "generator_node"}


@dataclass(frozen=True)
class Part:
    """A part of a bar: label, value as text, share of the longest bar [-], style, if a loss."""

    label: str
    text: str
    share: float
    style: str
    is_loss: bool = False


@dataclass(frozen=True)
class Bar:
    """A step: label, value as text, share of the longest bar [-], its parts."""

    label: str
    text: str
    share: float
    parts: list[Part]


def bars(found: Balance) -> list[Bar]:
    """Return the bars of a balance; a step whose whole is not known has none."""
    known = _known(found)
    longest = max((known[key] for key, *_ in STEPS if key in known), default=0.0)
    if longest <= 0:
        return []
    made = []
    for key, label, parts, remainder, is_loss in STEPS:
        whole = known.get(key, 0.0)
        if whole <= 0:
            continue
        shown = [_part(found, known, one, longest) for one in parts if one in known]
        if parts and len(shown) == len(parts):
            left_J = whole - sum(known[one] for one in parts)
            shown.append(_remainder(found, key, left_J, remainder, is_loss, longest))
        made.append(Bar(label, _text(found, key), whole / longest, shown))
    return made


def _known(found) -> dict[str, float]:
    """Return the energies that have a value [J]."""
    return {key: one.value for key, one in found.energies.items()
            if one is not None and found.told[key].kind not in (UNKNOWN, BOUNDS)}


def _text(found, key):
    value, spread, mark = figure(found.energies[key], found.told[key], 1 / J_PER_WH)
    return f"{value} +- {spread} Wh {mark}".replace(" +-  Wh", " Wh").strip()


def _part(found, known, key, longest):
    return Part(LABELS[key], _text(found, key), max(known[key], 0.0) / longest, STYLES[key])


def _remainder(found, key, left_J, label, is_loss, longest):
    node = found.nodes[NODES[key]] if key in NODES else None
    if node is None:
        text = f"{left_J / J_PER_WH:.1f} Wh"
    else:
        left_J = node.value
        text = "{} +- {} Wh".format(*pair(node, 1 / J_PER_WH))
    return Part(label, text, max(left_J, 0.0) / longest, "rest", is_loss)
