"""A part of a review that is worked out elsewhere, in the two forms that it is shown in.

The trend and what was to be expected come as these.
"""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Section:
    """A part: lines of at most 80 columns with its heading first, and itself as HTML."""

    lines: list[str] = field(default_factory=list)
    html: str = ""
