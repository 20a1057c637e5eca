"""The page of the register map is what the tables say."""

from forebay.docs import registers as page
from keeper import registers


def test_the_page_is_current():
    assert page.PAGE.read_text(encoding="utf-8") == page.text(), (
        "run: python -m forebay.docs.registers")


def test_it_names_every_register_with_its_address_and_type():
    text = page.text()
    for row in registers.INPUT_REGISTERS + registers.HOLDING_REGISTERS:
        assert f"| {row[0]} | `{row[1]}` | {row[2]} | " in text
