"""Which lockouts an order may end, and when: the whole keeper, as the link calls it."""

import pytest

from keeper import channels as ch
from keeper.operation import orders as od
from keeper.protection.elements import BOTH, number
from tests.keeper import statement as said
from tests.keeper.whole import Rig

SLOWEST = 150  # scans: 48-SHT, the slowest of those that trip or lock a rig at rest
COUNTED = [row for row in said.STATEMENT if row.does in said.COUNTS]


def locked(folder, name):
    """A healthy rig that has run for long, locked out by an element."""
    rig = Rig(folder, memory=False)
    rig.run(SLOWEST + 1)
    lockout = rig.keeper.core.sequence.lockout
    lockout.sides, lockout.element = BOTH, number(name)
    return rig


def reset(rig):
    return rig.keeper.order(od.RESET, 1, 0)


@pytest.mark.parametrize("row", COUNTED, ids=[row.id for row in COUNTED])
def test_an_order_ends_only_what_needs_nobody_at_the_rig(tmp_path, row):
    rig = locked(tmp_path, row.id)
    at_rig = row.who == said.AT_RIG
    assert reset(rig) == (od.ONLY_AT_RIG if at_rig else od.DONE)
    assert rig.locked == (BOTH if at_rig else 0)


def test_an_order_is_refused_before_the_slowest_cause_has_had_its_time(tmp_path):
    rig = Rig(tmp_path, memory=False)
    rig.run(SLOWEST)
    lockout = rig.keeper.core.sequence.lockout
    lockout.sides, lockout.element = BOTH, number("48-SHT")
    assert reset(rig) == od.CAUSE_PRESENT
    assert rig.locked == BOTH
    rig.run(1)
    assert reset(rig) == od.DONE


def test_an_order_is_refused_while_a_cause_only_counts_and_while_it_acts(tmp_path):
    rig = locked(tmp_path, "48-SHT")
    rig.run(25, [(ch.PULSES_DOWN, 2), (ch.GENERATOR_MV, 1000)])
    assert not rig.keeper.acting
    assert reset(rig) == od.CAUSE_PRESENT
    rig.run(SLOWEST)
    assert rig.keeper.acting
    assert reset(rig) == od.CAUSE_PRESENT
    rig.run(2 * SLOWEST + 25, [(ch.PULSES_DOWN, 0)])
    assert reset(rig) == od.DONE


def test_an_order_ends_nothing_where_nothing_is_locked(tmp_path):
    rig = Rig(tmp_path, memory=False)
    rig.run(SLOWEST + 1)
    assert reset(rig) == od.NOTHING_LOCKED
