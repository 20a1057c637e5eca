"""What a rig lacks is shown apart from what is bad, and has no number."""

import re
from datetime import date

from forebay.rig import instruments, load, remaining
from forebay.shelf.fitted import totals_measured
from forebay.watch import lacking
from forebay.watch.follow import Snapshot
from forebay.watch.view import plain_line, view
from keeper.channels import CONTACTS, INVALID
from tests.watch.test_view import live

TODAY = date(2026, 6, 1)
FITTED = instruments.mask(load(demo="orchard").plant())
# As a board of such a rig says it: what is absent is INVALID and its contacts open.
READ = {name: value if FITTED >> lacking.PLACES[name] & 1 else INVALID for name, value in (
    (name, live()[name]) for name in lacking.PLACES if name not in CONTACTS)}
ORCHARD = live(**{**READ, "generator_mV": 3100, "lamp_mA": 40, "fitted": FITTED,
                  "contacts": 0b1001})


def page(registers=ORCHARD, **more):
    return "\n".join(view(Snapshot("COM3", registers, at_s=1e9), today=TODAY, **more))


def test_what_is_absent_is_listed_and_is_not_called_bad():
    text = page()

    assert "not to be trusted" not in text
    told = " ".join(text.split())
    assert "absent: EI-PAN II-PAN II-PMP II-GEN EI-SUP II-SUP FI-UP FI-DN LI-UP TI-WTR" in told
    assert "elements not fitted: 71HH-UP 3-SW 5-STP" in told
    assert "left to hardware or a person: overflow, flood" in told


def test_what_is_absent_has_neither_a_dash_nor_a_zero():
    lines = page().splitlines()

    assert not any(line.startswith(("panel ", "supply ", "pump W", "level m")) for line in lines)
    assert not any(re.search(r"\b(level|valve|water|flow (up|down)) ", line)
                   for line in lines if line.startswith(("pump", "generator", "lamps", "wanted")))
    assert any(re.match(r"pump +on +motor +31\.2 degC$", line) for line in lines)
    assert any(re.match(r"generator +3\.10 V$", line) for line in lines)
    assert any(re.match(r"lamps +0\.040 A +0\.12 W$", line) for line in lines)


def test_a_contact_that_is_absent_is_neither_open_nor_closed():
    assert "contacts open: HS-1\n" in page()  # the button; the other absent ones are open as well
    assert "contacts open: LSH-UP, HS-1\n" in page(ORCHARD | {"contacts": 0b1000})


def test_bad_and_absent_stand_apart():
    text = page(ORCHARD | {"motor_mdegC": INVALID})

    assert re.search(r"motor +-$", text, re.MULTILINE)
    assert "not to be trusted: motor temperature: out of range\n" in text


def test_it_fits_a_small_terminal_and_keeps_the_newest_event():
    one = Snapshot("COM3", ORCHARD, at_s=1e9, events=[(12, 119000, "Event. " + "words " * 20)])
    lines = view(one, today=TODAY, rows=24)

    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    assert any("Event." in line for line in lines)
    assert any(line.startswith("absent: ") for line in lines)


def test_a_line_a_reading_leaves_out_what_is_absent():
    text = plain_line(Snapshot("COM3", ORCHARD, at_s=1e9))

    assert "lamps 0.12 W" in text
    assert "panel" not in text
    assert "level" not in text


def test_a_document_has_null_for_what_is_absent_and_numbers_for_what_is_bad_or_zero():
    found = lacking.known(ORCHARD | {"motor_mdegC": INVALID})

    assert found["panel_mA"] is found["level_mm"] is found["first_level_mm"] is None
    assert found["panel_mJ"] is found["up_uL"] is found["leak_mm"] is None
    assert (found["lamp_mJ"], found["motor_mdegC"], found["lamp_mA"]) == (0, INVALID, 40)
    assert {name for name in totals_measured(FITTED) if found[name] is None} == {
        name for name, there in totals_measured(FITTED).items() if not there}


def test_a_rig_with_everything_says_nothing_of_it():
    assert "absent" not in page(live())
    assert lacking.known(live()) == live()
    assert lacking.known({}) == {}


def test_the_hazards_are_those_of_the_rigs_own_summary():
    (told,) = [line for line in lacking.lines(ORCHARD, True) if "left to hardware" in line]

    assert told.partition(": ")[2].split(", ") == list(
        remaining.left_to_hardware(load(demo="orchard").plant()))
