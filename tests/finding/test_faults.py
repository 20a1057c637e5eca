"""The catalogue holds each joint, lead and part of the ways of power, in words."""

import pytest

from forebay.finding.faults import JOINT, LEAD, OPENS, catalogue
from forebay.hardware.cables import POWER
from tests.finding.rigs import layout

DEMOS = ("hillside", "orchard")
EVERY = {demo: catalogue(layout(demo)) for demo in DEMOS}


@pytest.mark.parametrize("demo", DEMOS)
def test_every_fault_has_a_name_of_its_own(demo):
    ids = [fault.id for fault in EVERY[demo]]

    assert len(set(ids)) == len(ids) > 150


@pytest.mark.parametrize("demo", DEMOS)
def test_every_core_has_two_joints_and_itself(demo):
    one = layout(demo)
    opens = {fault.id: fault for fault in EVERY[demo] if fault.how == OPENS}

    for cable in one.build.cables:
        for number in range(1, len(cable.cores) + 1):
            name = f"{cable.id}.{number}"
            if name in {lead.id for lead in one.leads}:
                assert opens[f"{name}-near-open"].what == opens[f"{name}-far-open"].what == JOINT
                assert opens[f"{name}-open"].what == LEAD
                assert (f"{name}-near-bad" in {fault.id for fault in EVERY[demo]}) == (
                    cable.group == POWER)


@pytest.mark.parametrize("demo", DEMOS)
def test_every_part_on_the_ways_of_power_may_be_open(demo):
    # By hand, from the drawings: panel to pump, generator to lamps, panel to battery to board.
    named = {"PV1", "S1a", "S1b", "B1a", "S2a", "B2", "M1", "Q1", "G1", "V3", "K1a", "E1", "D7",
             "B7", "U1", "F1", "BT1", "U2", "D8", "A1"}

    assert {f"{part}-open" for part in named} <= {fault.id for fault in EVERY[demo]}


@pytest.mark.parametrize("demo", DEMOS)
def test_a_fault_is_said_in_words_with_its_place(demo):
    for fault in EVERY[demo]:
        assert len(fault.words) > 15
        assert fault.mend
        assert "_" not in fault.words
        assert fault.place in {part.at for part in layout(demo).netlist}


def test_the_words_say_terminal_core_and_place():
    words = {fault.id: fault.words for fault in EVERY["hillside"]}

    assert words["W03.2-near-open"] == "core 2 of cable W03, its joint at X4 (box): open"
    assert words["B1a-open"] == ("the over-full float LSHH-UP B1a (deck): open or dead, or in its"
                                 " open position")
