"""The sheets of one rig's hardware: every file by its name."""

from forebay.docs.sheets import cabling, circuits, heights, parts
from forebay.hardware.build import Build


def files(build: Build) -> dict[str, str]:
    """Return the text of every sheet by its file's name."""
    return {
        "parts.md": parts.page(build),
        "wiring.md": circuits.page(build),
        "cables.md": cabling.page(build),
        "heights.md": heights.page(build),
        **circuits.sheets(build),
    }
