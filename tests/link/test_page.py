"""The page of the register map is what the tables say."""

import pathlib

from forebay.docs import registers as page
from forebay.wire import registers

ROOT = pathlib.Path(__file__).resolve().parents[2]


def test_the_page_is_current():
    drawn = ROOT / "host" / "docs" / "registers.md"
    assert drawn.read_text(encoding="utf-8") == page.text(), (
        "run: python -m forebay.docs.registers > host/docs/registers.md")


def test_it_names_every_register_with_its_address_and_type():
    text = page.text()
    for row in registers.INPUT_REGISTERS + registers.HOLDING_REGISTERS:
        assert f"| {row[0]} | `{row[1]}` | {row[2]} | " in text
