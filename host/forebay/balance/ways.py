"""By which ways a figure can be come by, in order of preference: one table.

The first way that a rig's instruments allow, and that the period bears out, is taken
and named.  A figure is measured, or follows from a model, or is known only within
bounds, or is unknown; it is never 0 for want of a meter.  Knows nothing of numbers.
"""

from typing import NamedTuple

MEASURED, MODEL, BOUNDS, UNKNOWN = "measured", "model", "bounds", "unknown"
RANK = {UNKNOWN: 0, BOUNDS: 1, MODEL: 2, MEASURED: 3}

_FLOATS = "full_float|over_full_float|empty_float"
_PANEL_V = "panel_meter|pump_meter"
IDLE = "the pump was off all the time"


class Way(NamedTuple):
    """One way to a figure.

    needs: instruments, each "one" or "one|other"; uses: figures that must be known, by
    measurement or model; sure: whether it always leads there, whatever the period holds.
    """

    figure: str
    kind: str
    name: str
    needs: tuple[str, ...] = ()
    uses: tuple[str, ...] = ()
    sure: bool = True


WAYS = (
    Way("lamps", MEASURED, "its meter", ("lamp_meter",)),
    Way("lamps", MODEL, "generator less clamp", ("generator_meter",), ("generator", "clamp")),
    Way("clamp", MEASURED, "the generator's voltage", ("generator_meter",)),
    Way("clamp", MODEL, "the voltage at the lamps, and where the clamp is said to begin",
        ("lamp_meter",)),
    Way("generator", MEASURED, "its meter", ("generator_meter",)),
    Way("generator", MODEL, "lamps and clamp: nothing else is on its wires", (),
        ("lamps", "clamp")),
    Way("supply_in", MEASURED, "its meter", ("supply_meter",)),
    Way("supply_out", MEASURED, "its meter", ("supply_meter",)),
    Way("board_load", MEASURED, "the battery's meter in the dark", ("supply_meter", _PANEL_V),
        sure=False),
    Way("board_load", MODEL, "the load that is stated for the board"),
    Way("charge", MEASURED, "the battery's meter, at the panel's voltage",
        ("supply_meter", _PANEL_V)),
    Way("charge", MODEL, "panel less pump", ("panel_meter", "pump_meter"), ("panel", "pump")),
    Way("panel", MEASURED, "its meter", ("panel_meter",)),
    Way("panel", MODEL, "pump and charger", (), ("pump", "charge")),
    Way("down", MEASURED, "its meter", ("flow_down",)),
    Way("down", MODEL, "what the tank lost while there was light", ("level",)),
    Way("down", MODEL, "between moves of the floats", (_FLOATS,), sure=False),
    Way("down", MODEL, "the light, and what a litre gives", (), ("lamps",)),
    Way("up", MEASURED, "its meter", ("flow_up",)),
    Way("up", MODEL, IDLE, sure=False),
    Way("up", MODEL, "what the tank gained while the pump ran", ("level",)),
    Way("up", MODEL, "between moves of the floats, and what was let down", (_FLOATS,), ("down",),
        sure=False),
    Way("up", BOUNDS, "what the tank holds or the pump can lift, and what was let down", (),
        ("down",)),
    Way("gained", MEASURED, "the level", ("level",)),
    Way("gained", MODEL, "pumped up less let down", ("flow_up", "flow_down"), ("up", "down")),
    Way("gained", MODEL, "moves of the floats, and what was let down", (_FLOATS,), ("down",),
        sure=False),
    Way("gained", BOUNDS, "what the tank holds"),
    Way("stored", MEASURED, "the level", ("level",)),
    Way("stored", MODEL, "pumped up, and the mean head", (), ("up",)),
    Way("stored", BOUNDS, "pumped up, and the mean head", (), ("down",)),
    Way("released", MEASURED, "the level", ("level",)),
    Way("released", MODEL, "let down, and the mean head", (), ("down",)),
    Way("pump", MEASURED, "its meter", ("pump_meter",)),
    Way("pump", MODEL, IDLE, sure=False),
    Way("pump", MODEL, "panel less charger", ("panel_meter", "supply_meter"),
        ("panel", "charge")),
    Way("pump", BOUNDS, "no less than what it lifted", (), ("up",)),
    Way("fill_residual", MEASURED, "meter and level", ("flow_up", "level")),
    Way("discharge_residual", MEASURED, "meter and level", ("flow_down", "level")),
    Way("rest_change", MEASURED, "the level", ("level",)),
    Way("panel_node", MEASURED, "three meters", ("panel_meter", "pump_meter", "supply_meter")),
    Way("generator_node", MEASURED, "two meters", ("generator_meter", "lamp_meter")),
    Way("panel_to_pump", MODEL, "of the two", ("panel_meter", "pump_meter"), ("pump", "panel")),
    Way("wire_to_water", MODEL, "of the two", (), ("stored", "pump")),
    Way("water_to_wire", MODEL, "of the two", (), ("generator", "released")),
    Way("generator_to_lamps", MODEL, "of the two", ("generator_meter", "lamp_meter"),
        ("lamps", "generator")),
    Way("round_trip", MODEL, "of the two", (), ("wire_to_water", "water_to_wire")),
)
# Of a figure whose two sides are only known one by the other.
TANGLED = "its two sides follow from one another"
BY_FIGURE: dict[str, list[Way]] = {}
for _way in WAYS:
    BY_FIGURE.setdefault(_way.figure, []).append(_way)


class Told(NamedTuple):
    """How a figure is known: kind, by what, or why it is not; bounds in the figure's unit.

    low, high: of a figure known only as bounds; None = open on that side.
    """

    kind: str
    by: str
    low: float | None = None
    high: float | None = None

    @property
    def is_known(self) -> bool:
        """Whether it has a value with an uncertainty."""
        return RANK[self.kind] >= RANK[MODEL]


def allows(way: Way, fitted) -> bool:
    """Return whether a rig with these instruments [names] can go a way."""
    return all(any(one in fitted for one in need.split("|")) for need in way.needs)


def lacking(figure: str, fitted) -> tuple[str, ...]:
    """Return what a rig lacks for the best way to a figure [names of instruments].

    Of a way that rests on other figures, what it lacks for these.
    """
    first = BY_FIGURE[figure][0]
    missing = [need.split("|")[0] for need in first.needs
               if not any(one in fitted for one in need.split("|"))]
    for used in first.uses:
        missing += [one for one in lacking(used, fitted) if one not in missing]
    return tuple(missing)
