# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""Contacts to ground: which way they read, and how long a change must stand."""

import pytest
from machine import CHIP, Pin

from keeper.channels import LOOP_CUT, LOOP_HEALTHY, LOOP_SHORTED
from keeper.drivers.analog import FULL, AnalogInput
from keeper.drivers.contacts import Contacts
from keeper.drivers.supervised import SupervisedLoop

GPIOS = (8, 9)


def read(contacts):
    values = [7] * 4
    contacts.read(values, 1)
    assert (values[0], values[3]) == (7, 7)
    return values[1:3]


def test_contacts_use_the_pull_up_and_read_closed_when_low(chip):
    contacts = Contacts(GPIOS, 1)
    assert chip.lines[8].pull == Pin.PULL_UP
    chip.lines[9].outside = 0
    assert read(contacts) == [0, 1]


def test_a_contact_without_a_cable_reads_open(chip):
    contacts = Contacts(GPIOS, 1)
    assert read(contacts) == [0, 0]


def test_a_contact_reads_open_until_it_has_been_seen_closed_often_enough(chip):
    contacts = Contacts(GPIOS, 3)
    chip.lines[8].outside = 0
    assert [read(contacts)[0] for _ in range(4)] == [0, 0, 1, 1]


def test_a_bounce_shorter_than_the_wanted_scans_is_not_seen(chip):
    contacts = Contacts(GPIOS, 2)
    chip.lines[8].outside = 0
    read(contacts)
    read(contacts)
    seen = []
    for level in (1, 0, 1, 0, 1, 1, 0, 0):
        chip.lines[8].outside = level
        seen.append(read(contacts)[0])
    assert seen == [1, 1, 1, 1, 1, 0, 0, 1]


# Worked out by hand: 4.7 kohm to the rail; 2.2 kohm in line, 4.7 kohm across the
# contact. Closed 2.2/6.9 = 0.319, open 6.9/11.6 = 0.595, shorted 0, cut 1.
VOLTAGES = {"closed": 0.319, "open": 0.595, "shorted": 0.0, "cut": 1.0}


@pytest.fixture
def loop(chip):
    return SupervisedLoop(AnalogInput(28), 150, 450, 800, 2)


def look(loop, share, scans=2):
    CHIP.analog[28] = int(share * FULL)
    for _ in range(scans):
        loop.read()
    return loop.contact, loop.state


@pytest.mark.parametrize(
    ("condition", "contact", "state"),
    [
        ("closed", 1, LOOP_HEALTHY),
        ("open", 0, LOOP_HEALTHY),
        ("shorted", 1, LOOP_SHORTED),
        ("cut", 1, LOOP_CUT),
    ],
)
def test_the_four_conditions_of_a_supervised_loop_are_told_apart(loop, condition, contact, state):
    assert look(loop, VOLTAGES[condition]) == (contact, state)


def test_a_supervised_loop_reads_open_before_it_was_seen(loop):
    assert look(loop, VOLTAGES["closed"], scans=1) == (0, LOOP_HEALTHY)


def test_a_spike_on_a_supervised_loop_is_not_a_short(loop):
    look(loop, VOLTAGES["closed"])
    assert look(loop, VOLTAGES["shorted"], scans=1) == (1, LOOP_HEALTHY)
    assert look(loop, VOLTAGES["closed"], scans=1) == (1, LOOP_HEALTHY)
