"""A plan as a JSON document: parts by key, figures and rows under the keys of their units."""

from typing import Any

from forebay.plan.answers import COVERING, Part, Range, Table
from forebay.plan.planning import Plan


def document(plan: Plan) -> dict[str, Any]:
    """Return a plan as a JSON document, as described in docs/json.md."""
    return {
        "rig": plan.rig.rig.name,
        "assumed": sorted(plan.rig.assumed),
        **{part.key: _part(part) for part in plan.parts},
        "notes": list(plan.notes),
    }


def _part(part: Part) -> dict[str, Any]:
    return {
        **{figure.key: _value((figure.value, figure.spread)) for figure in part.figures},
        **{table.key: _rows(table) for table in part.tables},
        "says": list(part.says), "warns": list(part.warns),
    }


def _rows(table: Table) -> list[dict[str, Any]]:
    return [{column.key: _value(one) for column, one in zip(table.columns, row, strict=True)}
            for row in table.rows]


def _value(value: Any) -> Any:
    """Return a value, or with its standard uncertainty where it has one."""
    if not isinstance(value, tuple):
        return value
    if isinstance(value, Range):
        return value._asdict()
    value, spread = value
    if spread is None or value is None:
        return value
    return {"value": value, "u": spread / COVERING}
