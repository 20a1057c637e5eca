"""What a span gave by the rows of a journal: the same sums for a record and its replay."""

from typing import NamedTuple

import numpy as np

from forebay.balance.covered import row_seconds
from forebay.replay.comparing import Event
from forebay.replay.engine.aligning import PUMPS
from forebay.shelf import Rows
from keeper import channels as ch
from keeper import events as ev
from keeper import settings as st
from keeper.physics import of_rig
from keeper.protection import elements as el

L_PER_M3, S_PER_H, J_PER_WH, MILLI = 1000.0, 3600.0, 3600.0, 1e-3


class Figure(NamedTuple):
    """A figure that is compared: its key with the unit, its label, its digits."""

    key: str
    label: str
    digits: int


FIGURES = (
    Figure("up_L", "water up [L]", 1),
    Figure("down_L", "water down [L]", 1),
    Figure("pump_h", "pump on [h]", 2),
    Figure("light_h", "light [h]", 2),
    Figure("lamps_Wh", "lamps [Wh]", 2),
    Figure("hottest_degC", "hottest motor [degC]", 1),
    Figure("end_L", "upper tank at the end [L]", 0),
    Figure("trips", "trips", 0),
    Figure("lockouts", "lockouts", 0),
)


def figures_of(rows: Rows, events: list[Event], values: dict, settings: list[int]
               ) -> dict[str, float | None]:
    """Return the figures by key; None where no instrument tells one.

    rows: those of the span; events: likewise, as compared; values: of the rig, by key [SI].
    """
    seconds = row_seconds(rows)

    def summed(column, where=slice(None)):
        known = np.nan_to_num(column)
        return float((known * seconds)[where].sum()) if np.isfinite(column).any() else None

    watts = rows.si(ch.GENERATOR_MV) * rows.si(ch.LAMP_MA)
    if not np.isfinite(watts).any():
        watts = rows.si(ch.GENERATOR_MV) * rows.si(ch.GENERATOR_MA)
    lit = np.nan_to_num(watts) >= settings[st.index("lit_mW")] * MILLI
    fitted = settings[st.index("fitted")]
    up, down = (summed(rows.si(place)) if fitted >> place & 1 else None
                for place in (ch.FLOW_UP, ch.FLOW_DOWN))
    lamps = summed(watts)
    degC = rows.si(ch.MOTOR_MDEGC)
    level = rows.si(ch.LEVEL_MM)
    level = level[np.isfinite(level)]
    tank = of_rig.tank(values, "upper.")
    return {
        "up_L": None if up is None else up * L_PER_M3,
        "down_L": None if down is None else down * L_PER_M3,
        "pump_h": float(seconds[np.isin(rows.state, PUMPS)].sum()) / S_PER_H,
        "light_h": float(seconds[lit].sum()) / S_PER_H,
        "lamps_Wh": None if lamps is None else lamps / J_PER_WH,
        "hottest_degC": float(np.nanmax(degC)) if np.isfinite(degC).any() else None,
        "end_L": None if not len(level) else L_PER_M3 * tank.volume_m3(
            min(max(float(level[-1]), 0.0), values["upper.height_m"])),
        "trips": sum(_is_trip(one) for one in events),
        "lockouts": sum(one.key[0] == ev.LOCKOUT for one in events),
    }


def _is_trip(event):
    code, number = event.key[:2]
    return code == ev.ACTED and el.judged(number - 1, el.J_ACTION) >= el.TRIP
