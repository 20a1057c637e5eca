"""What a night's light amounts to in everyday terms, from the things that `explain` compares with.

Owns the sentences only; the things and where they come from stand in `forebay.explain.everyday`.
"""

from forebay.balance import Balance
from forebay.balance.ways import BOUNDS, UNKNOWN
from forebay.explain.everyday import CELL_J, EVERYDAY
from forebay.showing import METRIC

ML = 1000.0
SOURCES = ("Standard fall 9.80665 m/s2 (CGPM 1901), specific heat of water 4.18 kJ/(kg K); bucket,"
           " stairs and an AA cell of 2000 mAh at 1.2 V: common practice, no source.")


def lines(found: Balance) -> list[str]:
    """Return what the energy in the lamps, and the water behind it, amount to; [] if unknown."""
    lamps, told = found.energies["lamps"], found.told["lamps"]
    if lamps is None or told.kind in (UNKNOWN, BOUNDS) or lamps.value <= 0:
        return []
    thing = EVERYDAY[METRIC.name]
    joules = lamps.value
    said = [
        f"The light of this time took {joules / 1e3:.3g} kJ: what {joules / CELL_J:.2g}"
        " rechargeable AA cells hold.",
        f"As much as lifting a bucket of {thing.bucket} by {thing.bucket_up}"
        f" {joules / thing.bucket_J:.0f} times, or a person climbing"
        f" {joules / thing.stairs_J:.2g} storeys.",
        f"It would bring {ML * joules / thing.boiled_J:.2g} mL of tap water to the boil.",
    ]
    down = found.water["down"]
    if down is not None and found.told["down"].kind not in (UNKNOWN, BOUNDS) and down.value > 0:
        said.append(f"Each litre that was let down gave {joules / down.value:.2g} J of light.")
    return said
