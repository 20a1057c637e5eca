"""The catalogue on rigs with less: data that names what exists, and what a modest rig can say."""

import pytest

from forebay.rehearse import lesser
from forebay.rig import load
from forebay.twin import effects, faults
from keeper import channels as ch
from keeper import settings as st
from keeper.protection.elements import E_ID, ELEMENTS

IDS = {row[E_ID] for row in ELEMENTS}
FULL, MODEST = load(), load(demo="orchard")


def fitted(rig):
    return rig.settings()[st.index("fitted")]


def test_every_row_names_a_fault_and_elements():
    assert set(lesser.INSTEAD) <= set(faults.NAMES)
    assert {one.element for rows in lesser.INSTEAD.values() for one in rows} <= IDS
    assert set(lesser._OF) | set(effects.LOST) | set(effects.WIRED) <= set(faults.NAMES)


@pytest.mark.parametrize("name", faults.NAMES)
def test_with_all_instruments_the_catalogue_itself_holds(name):
    row = faults.row_of(name)
    told = lesser.expected(name, FULL.plant(), FULL.settings())
    assert told == ((row[faults.F_FIRST],), row[faults.F_WITHIN_S])
    assert lesser.has(name, fitted(FULL))


def test_what_is_not_there_cannot_fail():
    for name in ("level-stuck", "panel-monitor-lost", "meter-up-slow", "over-full-cut", "frost"):
        assert not lesser.has(name, fitted(MODEST))
    for name in ("motor-sensor-open", "lamp-monitor-lost", "lower-tank-dry", "valve-stuck"):
        assert lesser.has(name, fitted(MODEST))


def test_the_modest_rig_hears_of_a_stall_by_its_warmth_and_of_an_empty_tank_by_its_lamps():
    told = {one.fault: one for one in lesser.beside(MODEST.plant(), MODEST.settings())}
    stalled = told["rotor-stalled"]
    assert stalled.full_first == "14-PMP"
    assert stalled.firsts[0] == "14-HOT"
    assert stalled.within_s > stalled.full_s
    assert "71L-LMP" in told["hand-valve-shut"].firsts
    assert told["pump-lead-open"].firsts == ()
    # Stuck open it lights on, stuck shut it does not light.
    assert {"33-LIT", "71L-LMP", "37-GEN"} <= set(told["valve-stuck"].firsts)
    assert (told["load-lost"].firsts, told["load-lost"].is_sure) == (("59-GEN",), True)


@pytest.mark.parametrize(("bits", "lost"), [
    (ch.ALL_FITTED, {ch.LAMP_MA}),
    (ch.ALL_FITTED & ~(1 << ch.GENERATOR_MA), {ch.LAMP_MA, ch.GENERATOR_MV})])
def test_a_monitor_that_is_lost_takes_the_voltage_that_it_reads_along(bits, lost):
    from forebay.twin.leads import Leads

    leads = Leads()

    class Plant:
        """Nothing of the plant changes."""

        up = down = None

        def rewire(self):
            """Nobody has moved anything."""

    effects.apply("lamp-monitor-lost", Plant(), leads, bits)
    assert {row[0] for row in leads.odd} == lost
