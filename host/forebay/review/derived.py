"""What a litre takes and gives, and what was lost where, as tables for a terminal."""

from collections.abc import Callable

from forebay.balance import Balance
from forebay.balance.derived import LOSSES, SPECIFIC, YIELDS
from forebay.balance.spill import SPILL, SPILL_LABEL
from forebay.review.figures import J_PER_WH


def tables(found: Balance, table: Callable[..., str]) -> list[str]:
    """Return the tables as text; table: makes one of title, unit, rows, values, told, scale."""
    more = found.derived
    if more is None:
        return []
    losses = [(one.key, one.label) for one in LOSSES]
    specific = [(one.key, one.label) for one in SPECIFIC]
    return [table("Losses", "Wh", losses, more.losses, more.told, 1 / J_PER_WH),
            table("A litre of water", "J", specific, more.specific, more.told, 1.0),
            table("Yield", "h", [(one.key, one.label) for one in YIELDS], more.yields, more.told,
                  1.0),
            table("Spilled", "L", [(SPILL, SPILL_LABEL)], more.spill, more.told, 1.0)]
