"""The conditions of a span through the whole simulated rig, with the unmodified keeper.

What a review's full comparison and a rehearsal of a past span under other settings share.
Runs the simulation in its own process (`forebay.rehearse.process`).
"""

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from forebay.expected.conditions import MINUTE_S, Conditions
from forebay.rehearse.process import AUTO, Stage
from forebay.rehearse.stage import GO_ON
from forebay.rig import Rig
from keeper import settings as st
from keeper.clock import PERIODS_PER_S
from keeper.physics import of_rig

S_PER_H = 3600.0


def job_of(rig: Rig, conditions: Conditions, board: Path, *, settings: Sequence[int] | None = None,
           faults: Sequence[tuple[float, str]] = (), seed: int = 1) -> dict[str, Any]:
    """Return what the simulation needs, as data.

    settings: other than the rig's own; faults: (seconds from the begin, name); the conditions
    have a sun.
    """
    values = dict(rig.plant())
    if conditions.upper_m3 is not None:
        shape = of_rig.tank(values, "upper.")
        values["upper.start_volume_m3"] = min(max(conditions.upper_m3.value, 0.0),
                                              shape.capacity_m3)
    values["lower.start_volume_m3"] = conditions.lower_m3
    sun = conditions.sun
    assert sun is not None
    ends = [[*map(float, rows), float(rows[-1])]
            for rows in (sun.poa_W_m2, sun.cell_degC, sun.air_degC)]
    chosen = list(settings if settings is not None else rig.settings())
    return {"rig": values, "settings": chosen, "sun": ends, "board": str(board),
            "rig_id": chosen[st.index("rig_id")], "settings_version": st.VERSION,
            "faults": list(faults), "seed": seed, "minutes": conditions.minutes,
            "wishes": [(one.begin_s, one.end_s, one.power_W) for one in conditions.wishes]}


def played(job: dict[str, Any], progress: Callable[[float, float], None] | None = None,
           python: str = AUTO) -> dict[str, Any]:
    """Return what came of a job: figures by key, and by the minute.

    progress: called with (hours done, hours in all).  Raises RehearsalError.
    """
    with Stage(python) as stage:
        stage.tell(job)
        while "came" not in (said := stage.hear()):
            stage.tell(GO_ON)
            if progress:
                progress(said["periods"] / PERIODS_PER_S / S_PER_H,
                         job["minutes"] * MINUTE_S / S_PER_H)
        return said["came"]


def player(rig: Rig, progress: Callable[[float, float], None] | None = None,
           python: str = AUTO) -> Callable[[Conditions], dict[str, float]]:
    """Return what plays conditions and gives the figures by key, for `expected_of`."""
    def play(conditions):
        with tempfile.TemporaryDirectory() as folder:
            came = played(job_of(rig, conditions, Path(folder) / "board"), progress, python)
        return figures_of(came)
    return play


def figures_of(came: dict[str, Any]) -> dict[str, float]:
    """Return the figures that are compared, by key."""
    found = {key: came[key] for key in ("up_L", "pump_J", "lamps_J", "light_h", "hottest_degC",
                                        "end_L")}
    if came["pump_J"] > 0.0:
        found["lifted"] = came["up_L"] / came["pump_J"]
    if came["down_L"] > 0.0:
        found["given"] = came["lamps_J"] / came["down_L"]
    return found
