"""What a meter reads at the test points of a rig, and what is wrong if not."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from forebay.docs.sheets import worst
from forebay.hardware import cables, sizing, tables
from forebay.hardware.netlist import GROUND, Netlist

_mm_PER_m = 1e3
MODES = ("standstill", "pump", "turbine")
# A pump that runs holds a panel no lower than this share of its rated voltage; a guess.
PUMP_LOW_FRAC = 0.75
# Without a panel's meter the rig states no voltage of dusk and of start: by the panel's own.
START_FRAC, DARK_V = 0.8, 3.0
# Over the volts at which the clamp holds the runaway: its divider's two resistors of 1 % and
# a meter's; for a moment, as the lamps go (tests simulate it). Guesses.
CLAMP_MORE, PEAK_MORE = 1.05, 1.3
SCHOTTKY_V = 0.6  # that D7 may drop; data sheets, from memory
HOLDER_V = 0.5  # that a peak holder's silicon diode keeps, as bench line BS1 says


class Point(NamedTuple):
    """One test point of a rig."""

    id: str
    net: str
    at: str
    windows: dict[str, tuple[float, float]]
    otherwise: str
    channel: str
    against: str = GROUND  # net of the black probe
    place: str = ""        # where, of a point whose net has another in the box


def windows_of(values: Mapping[str, Any], figures: Mapping[str, float]) -> dict[str, float]:
    """Return the figures that a window [V] or a sentence may name."""
    start_V = (values.get("limits.start_voltage_V")
               or START_FRAC * values["panel.open_circuit_voltage_V"])
    return {
        **figures,
        "start_V": start_V,
        "pump_low_V": PUMP_LOW_FRAC * values["pump.rated_voltage_V"],
        "charging_start_V": start_V - SCHOTTKY_V,
        "charging_low_V": PUMP_LOW_FRAC * values["pump.rated_voltage_V"] - SCHOTTKY_V,
        "dark_V": values.get("night.dark_voltage_V") or DARK_V,
        "supply_good_V": values["supply.good_voltage_V"],
        "generator_trip_V": values["generator.trip_voltage_V"],
        "clamp_most_V": CLAMP_MORE * figures["generator_clamped_V"],
        "clamp_peak_V": PEAK_MORE * figures["generator_clamped_V"],
        "holder_peak_V": PEAK_MORE * figures["generator_clamped_V"] - HOLDER_V,
        "board_load_W": values["supply.board_load_W"],
        "motor_reset_degC": values["motor.reset_temperature_degC"],
        "supply_hold_V": sizing.hold_V(values),
        "valve_travel_s": values["valve.travel_s"],
        "air_gap_mm": worst.air_gap_m(values) * _mm_PER_m,
    }


def points(netlist: Netlist, values: Mapping[str, Any], figures: Mapping[str, float],
           rows: Mapping[str, Any] | None = None) -> list[Point]:
    """Return the test points that a rig has: those whose net is there, one of each net.

    rows: the table of points, if another than the packaged one.
    """
    table = (rows or tables.load("points"))["test_point"]
    return _of([row for row in table if "place" not in row], netlist, values, figures)


def away(netlist: Netlist, values: Mapping[str, Any], figures: Mapping[str, float]) -> list[Point]:
    """Return the test points at far ends of nets that have another in the box."""
    table = tables.load("points")["test_point"]
    return _of([row for row in table if row.get("place") in netlist.places(row["net"])], netlist,
               values, figures)


def _of(rows, netlist, values, figures) -> list[Point]:
    named = {**windows_of(values, figures), "deck_lost_V": deck_lost_V(netlist, values, figures)}

    def volts(one: float | str) -> float:
        return named[one] if isinstance(one, str) else one

    return [Point(row["id"], row["net"], row["at"],
                  {mode: (volts(row[mode][0]), volts(row[mode][1])) for mode in MODES},
                  ". ".join(_sentences(row, netlist)).format(**named), row.get("channel", ""),
                  row.get("against", GROUND), row.get("place", ""))
            for row in rows if row["net"] in netlist.nets]


def deck_lost_V(netlist: Netlist, values: Mapping[str, Any],
                figures: Mapping[str, float]) -> float:
    """Return what the pump's way up to the deck and back loses while it runs [V]."""
    return next((one.lost_V for one in cables.cables(netlist, values, figures)
                 if (one.place, one.group) == ("deck", cables.POWER)), 0.0)


def _sentences(row: Mapping[str, Any], netlist: Netlist) -> list[str]:
    """Return what a row says of a rig: of its parts alone; each begins as one does."""
    found = [row["otherwise"], *(words for part, words in row.get("parts", {}).items()
                                 if part in netlist.parts)]
    return [found[0], *(f"{words[0].upper()}{words[1:]}" for words in found[1:])]


def driven(netlist: Netlist) -> list[str]:
    """Return the board's outputs on which a rig has something, by their nets."""
    return [net for row in tables.load("pins")["pin"] if row["kind"] in ("out", "pwm")
            and len(netlist.on(net := f"GP{row['gpio']}")) > 1]


def counted(count: int, what: str) -> str:
    """Return a small count in words, such as "two poles"."""
    words = ("no", "one", "two", "three", "four")
    return f"{words[count]} {what}{'' if count == 1 else 's'}"
