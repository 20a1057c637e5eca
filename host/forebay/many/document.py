"""Rigs side by side as one JSON document, as documented in docs/json.md."""

import math
from typing import Any

from forebay.many.page import COMPARED, RigLine


def as_document(rigs: list[RigLine]) -> dict[str, Any]:
    """Return the lines of rigs as a document; null where a figure is not known."""
    return {"rigs": [{
        "rig_id": one.rig_id, "name": one.name, "days": one.days, "whole_days": one.whole,
        "figures": [{"label": of.label, "unit": of.unit,
                     "value": float(f"{value:.6g}") if math.isfinite(value) else None}
                    for of, value in zip(COMPARED, one.values, strict=True)],
        "odd_days": one.odd, "trips": one.trips, "days_not_balanced": one.faults,
        "mixed_days": one.mixed}
        for one in rigs]}
