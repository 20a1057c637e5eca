"""README and DEVELOPERS.md say what is so: paths, channels, faults."""

import pathlib
import re

import pytest

from forebay.twin import faults
from keeper import channels as ch

ROOT = pathlib.Path(__file__).resolve().parent.parent
PAGES = ("README.md", "DEVELOPERS.md", "hardware/README.md")
LINK = re.compile(r"\]\((?!http)([^)#]+)")
CODE_PATH = re.compile(r"`((?:firmware|host|tests|hardware)/[\w./-]+)`")
# Named as not built yet.
TO_COME = {"firmware/boot.py", "firmware/main.py", "firmware/keeper/boards/",
           "firmware/keeper/drivers/"}


def cells(line: str) -> list[str]:
    """Returns the cells of a row of a table."""
    return [cell.strip().strip("`") for cell in line.strip().strip("|").split("|")]


def rows(page: str, head: str) -> list[list[str]]:
    """Returns the rows of the table whose head begins with `head`."""
    lines = (ROOT / page).read_text().splitlines()
    begin = next(at for at, line in enumerate(lines) if line.startswith(f"| {head} |"))
    found = []
    for line in lines[begin + 2:]:
        if not line.startswith("|"):
            break
        found.append(cells(line))
    return found


@pytest.mark.parametrize("page", PAGES)
def test_every_path_that_a_page_names_is_there(page):
    text = (ROOT / page).read_text()
    named = {(ROOT / page).parent / link for link in LINK.findall(text)}
    named |= {ROOT / path for path in CODE_PATH.findall(text) if path not in TO_COME}
    assert [str(path) for path in sorted(named) if not path.exists()] == []


def test_what_is_named_as_to_come_is_still_to_come():
    assert [path for path in TO_COME if (ROOT / path).is_file()] == []


def test_the_nomenclature_is_that_of_the_channels():
    expected = [
        [str(row[place]) for place in (ch.CH_NAME, ch.CH_TAG, ch.CH_UNIT, ch.CH_LOW, ch.CH_HIGH,
                                       ch.CH_TEXT)]
        for row in ch.CHANNELS
    ]
    assert rows("DEVELOPERS.md", "name") == expected


def test_the_faults_of_the_readme_are_those_of_the_catalogue():
    expected = [
        [row[faults.F_NAME], row[faults.F_WHAT], row[faults.F_FIRST] or "none"]
        for row in faults.FAULTS
    ]
    assert rows("README.md", "fault") == expected
