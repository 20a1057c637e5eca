"""The page and the diagram of protection are drawn from the board's own tables."""

import pathlib
import xml.etree.ElementTree as tree

import pytest

from forebay.docs import protection
from forebay.words.operation import CAUSES, ORDERS
from forebay.words.protection import ELEMENTS
from forebay.words.rig import SETTINGS
from keeper import modes, settings
from keeper.operation import orders
from keeper.protection import elements

DOCS = pathlib.Path(__file__).resolve().parent.parent.parent / "host" / "docs"
DRAWN = protection.drawn()


@pytest.mark.parametrize("name", sorted(DRAWN))
def test_the_committed_page_is_in_step(name):
    assert (DOCS / name).read_text(encoding="utf-8") == DRAWN[name], (
        "run: python -m forebay.docs.protection")


def test_every_row_of_every_table_is_on_the_page():
    page = " ".join(DRAWN[protection.PAGE].split())
    for row in elements.ELEMENTS:
        assert f"### {row[elements.E_ID]}" in page
        assert ELEMENTS[elements.number(row[elements.E_ID])].look in page
    for row in settings.SETTINGS:
        assert f"`{row[0]}`, {row[1]} to {row[2]}: {SETTINGS[row[0]]}" in page
    for row in orders.ORDERS:
        assert f"**{ORDERS[row[orders.O_CODE]].name}**" in page


def test_the_picture_has_a_box_for_each_state_and_an_arrow_for_each_pair():
    root = tree.fromstring(DRAWN[protection.PICTURE])
    space = "{http://www.w3.org/2000/svg}"
    texts = [text.text for text in root.iter(f"{space}text")]
    assert {row[0] for row in modes.STATES} <= set(texts)
    pairs = {(source, target) for source, _, target in modes.TRANSITIONS}
    assert len(list(root.iter(f"{space}line"))) == len(pairs)
    for number, (_, _, target) in enumerate(modes.TRANSITIONS):
        assert CAUSES[modes.TRANSITIONS[number][1]].name in texts, target
