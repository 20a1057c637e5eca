"""Figures by the litre and by the watt: what a litre costs and gives, what a panel yields.

Terms of IEC 61724-1: the array yield is the panel's energy over its rated power, the hours
for which it would have had to give that power.  Of IEC 60041: specific energy is that of a
unit of water; here by the litre, not the kilogram, as a person measures it.
"""

from collections.abc import Mapping

from forebay.balance.measured import Measured, maybe_ratio

J_PER_WH = 3600.0
# key, plain words; the order is that of every table.
SPECIFIC = (
    ("lifted_J_L", "taken by the pump for a litre lifted"),
    ("light_J_L", "light of a litre let down"),
    ("array_yield_h", "array yield: hours at the panel's rated power"),
)
LEAST_L = 1.0  # of less water a litre's joules are chance; a guess


def specific(energies: Mapping[str, Measured | None], water: Mapping[str, Measured | None],
             rated_W: float | None) -> dict[str, Measured | None]:
    """Return the figures by the keys of `SPECIFIC`; None where a side is not known or nothing.

    energies [J], water [L]: by their keys in a balance; rated_W: of the panel [W].
    """
    def by_litre(joules, litres):
        return None if joules is None or litres is None else maybe_ratio(joules, litres, LEAST_L)

    panel = energies["panel"]
    return {
        "lifted_J_L": by_litre(energies["pump"], water["up"]),
        "light_J_L": by_litre(energies["lamps"], water["down"]),
        "array_yield_h": panel * (1 / (rated_W * J_PER_WH)) if panel and rated_W else None,
    }
