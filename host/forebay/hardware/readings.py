"""What a meter reads at the test points of a rig, and what is wrong if not."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from forebay.docs.sheets import worst
from forebay.hardware import tables
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
    return {
        **figures,
        "start_V": values.get("limits.start_voltage_V")
        or START_FRAC * values["panel.open_circuit_voltage_V"],
        "pump_low_V": PUMP_LOW_FRAC * values["pump.rated_voltage_V"],
        "dark_V": values.get("night.dark_voltage_V") or DARK_V,
        "supply_good_V": values["supply.good_voltage_V"],
        "generator_trip_V": values["generator.trip_voltage_V"],
        "clamp_most_V": CLAMP_MORE * figures["generator_clamped_V"],
        "clamp_peak_V": PEAK_MORE * figures["generator_clamped_V"],
        "holder_peak_V": PEAK_MORE * figures["generator_clamped_V"] - HOLDER_V,
        "board_load_W": values["supply.board_load_W"],
        "motor_reset_degC": values["motor.reset_temperature_degC"],
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
    named = windows_of(values, figures)

    def volts(one: float | str) -> float:
        return named[one] if isinstance(one, str) else one

    return [Point(row["id"], row["net"], row["at"],
                  {mode: (volts(row[mode][0]), volts(row[mode][1])) for mode in MODES},
                  row["otherwise"].format(**named), row.get("channel", ""),
                  row.get("against", GROUND), row.get("place", ""))
            for row in rows if row["net"] in netlist.nets]
