"""The energy of a time as bars on one scale: one bar a step, what it splits into, what remains.

A remainder is called a loss only where it is one: what motor, pump, pipes, turbine and generator
do not pass on.  Where meters share out what another one read, what is left over is theirs; where
a model stands for one of them, nothing is left over that anybody measured.
"""

from dataclasses import dataclass

from forebay.balance import Balance
from forebay.balance.ways import BOUNDS, UNKNOWN
from forebay.review.figures import J_PER_WH, NOTHING, figure, pair

# whole, its label, its parts, what the remainder is called, whether that is a loss
STEPS = (
    ("panel", "out of the panel", ("pump", "charge"), "left over between the meters", False),
    ("pump", "into the pump", ("stored",), "lost in motor, pump and rising main", True),
    ("released", "released as water", ("generator",), "lost in penstock, turbine and generator",
     True),
    ("generator", "out of the generator", ("lamps", "clamp"), "left over between the meters",
     False),
    ("supply_out", "out of the buffer battery", (), "", False),
)
LABELS = {"pump": "into the pump", "charge": "into the charger", "stored": "stored as water",
          "generator": "out of the generator", "lamps": "into the lamps",
          "clamp": "into the clamp"}
STYLES = {"pump": "pump", "charge": "panel", "stored": "level", "generator": "level",
          "lamps": "lamp", "clamp": "panel"}
# What stands for a remainder, with its own uncertainty: a residual, or a loss.
NODES = {"panel": "panel_node", "generator": "generator_node"}
LOSSES = {"pump": "pump_set", "released": "turbine_set"}


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
            shown += _remainder(found, key, left_J, remainder, is_loss, longest)
        made.append(Bar(label, _text(found, key), whole / longest, shown))
    return made


def _known(found) -> dict[str, float]:
    """Return the energies that have a value [J]."""
    return {key: one.value for key, one in found.energies.items()
            if one is not None and found.told[key].kind not in (UNKNOWN, BOUNDS)}


def _text(found, key):
    return _said(found.energies[key], found.told[key])


def _said(quantity, told):
    value, spread, mark = figure(quantity, told, 1 / J_PER_WH)
    number = value if value == NOTHING else f"{value} +- {spread} Wh" if spread else f"{value} Wh"
    return f"{number} {mark}".strip()


def _part(found, known, key, longest):
    return Part(LABELS[key], _text(found, key), max(known[key], 0.0) / longest, STYLES[key])


def _remainder(found, key, left_J, label, is_loss, longest):
    """Return what is left of a whole as a part, nothing where no meters leave anything over."""
    if is_loss:
        more = found.derived
        text = _said(more.losses[LOSSES[key]], more.told[LOSSES[key]]) if more else (
            f"{left_J / J_PER_WH:.1f} Wh")
    elif (node := found.nodes[NODES[key]]) is not None:
        left_J = node.value
        text = "{} +- {} Wh".format(*pair(node, 1 / J_PER_WH))
    else:
        return []
    return [Part(label, text, max(left_J, 0.0) / longest, "rest", is_loss)]
