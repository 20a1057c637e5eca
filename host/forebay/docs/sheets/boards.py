"""Which board to take: what each has for the journal, and what has been tried of it."""

from collections.abc import Iterable
from typing import Any

from forebay.docs.sheets import text
from keeper.boards.kinds import KIB, kind_of
from keeper.journal.segments import FLASH_BLOCK

_NOTE = """\
Detail is every row, summary every quarter hour; then the oldest goes, unless it was pulled. A
board that is none of these runs as the first one does, with less of a journal and without the
light: not tried.
"""


def section(rows: Iterable[dict[str, Any]]) -> str:
    """The section of the page. rows: `[[board]]` of hardware/parts.toml."""
    lines = []
    reasons = []
    for row in rows:
        kind = kind_of(row["build"])
        lines.append((row["name"], row["build"], row["memory"],
                      f"{kind.files_blocks * FLASH_BLOCK // KIB} KiB",
                      f"{kind.journal_bytes // KIB} KiB", f"{row['detail_days']} days",
                      f"{row['summary_days']} days", row["tried"]))
        reasons.append(text.item(f"{row['name']}: {row['text']}"))
    heads = ("board", "interpreter's build", "memory", "files", "of them journal", "detail",
             "summary", "tried")
    return "\n".join([text.table(heads, lines), "".join(reasons), text.paragraph(_NOTE)])
