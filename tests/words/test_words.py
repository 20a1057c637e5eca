"""Every row of the keeper's tables has its words, in its order, and no word is without a row."""

import pytest

from forebay.words import link, measured, operation, protection, rig
from keeper import channels, events, health, modes, settings
from keeper.boards import wiring
from keeper.link import desk, layout
from keeper.operation import orders
from keeper.protection import derived, elements

OWN_REGISTERS = [row[0] for _, rows in layout.TABLES for row in rows]

TABLES = {
    "channels": (measured.CHANNELS, [row[0] for row in channels.CHANNELS]),
    "contacts": (measured.CONTACTS, channels.CONTACTS),
    "outputs": (measured.OUTPUTS, [row[0] for row in channels.OUTPUTS]),
    "totals": (measured.TOTALS, channels.TOTALS),
    "derived": (measured.DERIVED, [row[0] for row in derived.DERIVED]),
    "reasons": (measured.REASONS, channels.REASONS),
    "actions": (protection.ACTIONS, elements.ACTIONS),
    "elements": (protection.ELEMENTS, range(1, len(elements.ELEMENTS) + 1)),
    "modes": (operation.MODES, modes.MODES),
    "states": (operation.STATES, range(len(modes.STATES))),
    "causes": (operation.CAUSES, modes.CAUSES),
    "events": (operation.EVENTS, events.EVENT_CODES),
    "orders": (operation.ORDERS, [row[orders.O_CODE] for row in orders.ORDERS]),
    "refusals": (operation.REFUSALS, orders.REFUSALS),
    "safe reasons": (operation.SAFE_REASONS, health.SAFE_REASONS),
    "settings": (rig.SETTINGS, settings.NAMES),
    "wiring": (rig.WIRING, wiring.NAMES),
    "registers": (link.REGISTERS, OWN_REGISTERS + [row[0] for row in layout.ORDER_ROWS]),
    "reset reasons": (link.RESET_REASONS, health.RESET_REASONS),
    "journal states": (link.JOURNAL_STATES, health.JOURNAL_STATES),
    "desk's reasons": (link.GATE, range(desk.REASONS)),
}


@pytest.mark.parametrize("table", TABLES)
def test_every_row_has_its_words_and_no_word_is_without_a_row(table):
    words, rows = TABLES[table]
    assert list(words) == list(rows)


@pytest.mark.parametrize("table", TABLES)
def test_no_word_is_empty(table):
    for said in TABLES[table][0].values():
        assert all([said] if isinstance(said, str) else said)


def test_an_element_is_told_by_its_own_words():
    assert [said.id for said in protection.ELEMENTS.values()] == [
        row[elements.E_ID] for row in elements.ELEMENTS]
