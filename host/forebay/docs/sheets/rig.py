"""The sheets of one rig's hardware: every file by its name."""

from forebay.docs.schematic import boxing, plumbing
from forebay.docs.sheets import cabling, circuits, heights, interlocks, parts
from forebay.hardware.build import Build


def files(build: Build) -> dict[str, str]:
    """Return the text of every sheet by its file's name."""
    return {
        "parts.md": parts.page(build),
        "wiring.md": circuits.page(build),
        "cables.md": cabling.page(build),
        "heights.md": heights.page(build),
        "interlocks.md": interlocks.page(build),
        interlocks.LADDER: interlocks.svg(build),
        "box.svg": boxing.svg(build),
        "plumbing.svg": plumbing.svg(build),
        **circuits.sheets(build),
    }
