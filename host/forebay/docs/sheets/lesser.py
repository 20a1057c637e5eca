"""How much later a rig with fewer instruments acts, and what it leaves to hardware.

Of a rig with every instrument that is told of the packaged one with the fewest.
"""

from forebay.docs.sheets import text
from forebay.rehearse import lesser
from forebay.rig import DEMOS, Rig, load, remaining
from forebay.rig.instruments import mask

S_PER_MIN, S_PER_H = 60.0, 3600.0
MINUTES_FROM_S, HOURS_FROM_S = 300.0, 7200.0

_HEAD = """\
## With fewer instruments

An element that has nothing to judge by is not fitted; some others then stand in,
and act later. Compared are a rig with every instrument and {less}. *At most* is
counted as in host/docs/faults.md. Where nothing is named no element acts: the list
below says what is left.
"""
_LEFT = """\
What {less} leaves to hardware, to a person, or to an element that acts later;
`forebay rehearse` draws the same list of a rig, and `forebay flash` asks whether it
was read:
"""


def section(own: Rig) -> str:
    """Return the section as Markdown; own: the rig of the sheets."""
    rig = own if remaining.absent(own.plant()) else load(demo=DEMOS[-1])
    less = ("this rig" if rig is own
            else f"the packaged rig {DEMOS[-1]}, which has the fewest (this one has all)")
    heads = ("fault", "with every instrument: first, at most", "with fewer: first, at most")
    parts = [text.paragraph(part) if not part.startswith("##") else part + "\n"
             for part in _HEAD.format(less=less).split("\n\n")]
    parts += [text.table(heads, list(_rows(rig))),
              text.paragraph(_LEFT.format(less="it" if rig is not own else "this rig"))]
    left = remaining.lefts(mask(rig.plant()))
    parts.append("".join(text.item(f"**{row.hazard}**, {row.what}: {row.text}.") for row in left))
    return "\n".join(parts)


def _rows(rig):
    """Yield (fault, with everything, on the rig) of each fault that the rig meets otherwise."""
    for one in lesser.beside(rig.plant(), rig.settings()):
        if one.firsts != (one.full_first,) or not one.is_sure:
            sure = () if one.is_sure or not one.firsts else ("none",)
            own = " or ".join((*one.firsts, *sure))
            yield (f"`{one.fault}`", f"{one.full_first}, {span(one.full_s)}",
                   f"{own}, {span(one.within_s)}" if own else "none")


def span(seconds: float) -> str:
    """Return a time [s] as a person reads it."""
    if seconds >= HOURS_FROM_S:
        return f"{seconds / S_PER_H:.0f} h"
    if seconds >= MINUTES_FROM_S:
        return f"{seconds / S_PER_MIN:.0f} min"
    return f"{seconds:.3g} s"
