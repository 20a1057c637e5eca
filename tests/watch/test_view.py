"""The view says in plain words what the registers say, within its columns, on any terminal."""

import re
from collections import deque
from datetime import date

import hypothesis.strategies as st
import pytest
from hypothesis import given

from forebay.shelf import Anchor
from forebay.watch import due
from forebay.watch.follow import Snapshot
from forebay.watch.view import changes, plain_line, view
from forebay.watch.words import sparkline
from forebay.wire import registers
from forebay.words.link import RESET_REASONS
from forebay.words.protection import ELEMENTS
from keeper import modes
from keeper.channels import ALL_FITTED, INVALID, OPEN
from keeper.link import layout
from keeper.protection import elements

TODAY = date(2026, 6, 1)
KINDS = {row.name: row.type
         for row in registers.INPUT_REGISTERS}
BITS_A_WORD = 16


def live(**changes) -> dict[str, int]:
    """Registers of a rig that pumps in the sun."""
    values = dict.fromkeys(KINDS, 0)
    values.update(
        map_version=layout.MAP_VERSION, rig_id=4711, boot=12, uptime_ds=120000,
        state=modes.PUMPING, contacts=0b1101111, panel_mV=23800, panel_mA=700, pump_mA=650,
        flow_up_uL_s=48500, level_mm=412, motor_mdegC=31250, water_mdegC=12000, supply_mV=12900,
        supply_mA=-120, fitted=ALL_FITTED, out_pump_switch=1,
        journal_budget_B=800000, journal_free_B=600000)
    return values | changes


def snapshot(**changes) -> Snapshot:
    return Snapshot("COM3", live(**changes), at_s=1e9, pump_W=deque([1.0, 2.0, 3.0]),
                    level_m=deque([0.40, 0.41, None]))


def page(**changes) -> str:
    return "\n".join(view(snapshot(**changes), today=TODAY))


@pytest.mark.parametrize("rows", [24, 25, 30, 60])
@pytest.mark.parametrize("count", [0, 1, 6, 20])
def test_on_24_rows_all_but_older_events_is_shown(rows, count):
    one = snapshot()
    one.events = [(12, 119000 + 40 * place, f"Event {place}: " + "words " * 12)
                  for place in range(count)]
    lines = view(one, today=TODAY, rows=rows)
    assert len(lines) <= rows
    assert lines[-1].startswith("started: ")
    whole = [line for line in view(one, today=TODAY) if line]
    shown = [line for line in lines if line]
    gone = [line for line in whole if line not in shown]
    assert all("Event" in line or "words" in line for line in gone)
    if count:
        assert f"Event {count - 1}:" in "\n".join(shown)


def test_values_stand_in_units_a_person_reads():
    text = page()

    assert "PUMPING: the pump is on" in text
    assert re.search(r"panel +23\.80 V +0\.700 A +16\.66 W", text)
    assert re.search(r"pump +on +0\.650 A +15\.47 W", text)
    # 48500 uL/s are 2.91 L/min.
    assert re.search(r"flow up +2\.91 L/min", text)
    assert re.search(r"level +0\.412 m", text)
    assert re.search(r"supply +12\.90 V +-0\.120 A", text)
    assert re.search(r"motor +31\.2 degC", text)
    assert "start 12, up 3.3 h" in text
    # Bit 4 of the contacts is the button: open, as nobody presses it.
    assert "contacts open: HS-1\n" in text
    assert "lamps 0.00 W" in plain_line(snapshot(generator_mV=-20, lamp_mA=1))
    assert "nothing acts" in text


def test_every_element_that_acts_is_told_with_what_to_look_at():
    every = (1 << len(elements.ELEMENTS)) - 1
    text = " ".join(page(acting=every).split())

    for said in ELEMENTS.values():
        assert f"ACTS: {said.plain} ({said.id})" in text
        assert said.look in text


def test_a_lockout_names_its_element_and_what_to_do():
    number = elements.number("71HH-UP")
    text = " ".join(page(lockouts=1, held=1, lockout_element=number, first_out=number).split())

    assert "LOCKED OUT: pump; find the cause, then reset" in text
    assert "Upper tank over-full: the contact of the second float opened (71HH-UP)" in text
    assert "first to act in this run: Upper tank over-full" in text
    assert "held off" not in text


def test_safe_mode_says_why():
    said = page(safe_reason=1)

    assert "SAFE MODE, everything off, nothing will start: settings" in said
    assert "unreadable" in said


def test_a_reading_that_cannot_be_trusted_is_no_number():
    text = page(panel_mV=INVALID + OPEN, level_mm=INVALID)

    assert re.search(r"panel +- +0\.700 A +- ", text)
    assert re.search(r"level +- *$", text, re.MULTILINE)
    assert "panel voltage: open" in text
    assert "water level in the upper tank: out of range" in " ".join(text.split())


def test_a_silence_is_told_above_old_values():
    lost = snapshot()
    lost.lost = "the board at COM3 does not answer"
    lines = view(lost, today=TODAY)

    assert lines[1].startswith("NO ANSWER since")
    assert "does not answer" in lines[2]
    assert any("23.80 V" in line for line in lines)


def test_before_the_first_answer_there_is_a_page_too():
    assert "NO ANSWER" in "\n".join(view(Snapshot("COM3", lost="no answer")))


def test_events_of_this_start_have_an_age_and_others_their_start():
    shown = snapshot()
    shown.events = [(11, 50, "The board started (start 11)."), (12, 119400, "Order: light.")]
    text = "\n".join(view(shown, today=TODAY))

    assert re.search(r"start 11 +The board started", text)
    # 120000 - 119400 = 600 tenths of a second.
    assert re.search(r"1 min ago +Order: light\.", text)


any_register = st.fixed_dictionaries({
    name: st.integers(0, 2 ** (BITS_A_WORD * layout.WORDS[kind]) - 1) if kind[0] == "u"
    else st.integers(-2 ** (BITS_A_WORD * layout.WORDS[kind] - 1),
                     2 ** (BITS_A_WORD * layout.WORDS[kind] - 1) - 1)
    for name, kind in KINDS.items()})


@given(values=any_register, width=st.integers(40, 200), fine=st.booleans())
def test_whatever_a_board_says_the_page_keeps_its_columns(values, width, fine):
    shown = snapshot()
    shown.live = values
    lines = view(shown, width=width, fine=fine, today=TODAY)

    assert max(map(len, lines)) <= width
    assert all(line.isprintable() for line in lines)
    if not fine:
        assert "".join(lines).isascii()
    assert plain_line(shown).isprintable()


def test_a_page_of_an_ordinary_day_is_short():
    shown = snapshot()
    shown.events = [(12, 119400, "Order: light.")]
    assert len(view(shown, today=TODAY)) <= 26


def test_a_sparkline_rises_with_its_values_and_shows_gaps():
    assert sparkline([0.0, 1.0, 2.0, None, 7.0], 10) == "▁▂▃ █      0 to 7"
    assert sparkline([0.0, 7.0], 4, fine=False) == "_@   0 to 7"


@given(st.lists(st.none() | st.floats(-1e4, 1e4), max_size=700), st.integers(8, 60))
def test_a_sparkline_has_one_mark_a_column_at_most(values, columns):
    text = sparkline(values, columns)

    assert len(text[:columns]) == columns
    assert text[columns] == " "


def test_the_journal_says_how_many_days_are_left():
    # (600000 - a segment of 20000) / ((16 * 360 + 8 * 60) * 7.6 * 1.125) = 10.9
    assert "about 11 days" in due.journal(live(), None, 0.0)
    assert "pull now" in due.journal(live(journal_free_B=0), None, 0.0)
    assert "nothing is written" in due.journal(live(journal_budget_B=0), None, 0.0)


def test_the_view_says_how_well_times_are_known_and_until_when():
    # Tied 10 000 s ago to 0.24 s: 0.5 s of drift since, a minute after 60 / 50e-6 s.
    tied = Anchor(0, 12, 20000, 1.5e9, 0.1)
    assert due.times(live(), None).startswith("times: never pulled here")
    said = due.times(live(), tied)
    assert "tied 2.8 h ago, now +- 0.74 s" in said
    assert "within a minute until 27 Jul 2017, or a cut" in said
    for cut in (live(boot=14), live(uptime_ds=10)):
        assert "with no laptop near (start 12 to" in due.times(cut, tied)
        assert "this start's are not known; a pull ties them" in due.times(cut, tied)


@pytest.mark.parametrize(("state", "words"), [
    (1, "no memory for it"), (2, "its files are unusable"), (3, "the safe mode writes none"),
    (4, "no memory, not even to read it"), (9, "reason 9")])
def test_a_journal_that_is_not_kept_is_told_with_its_reason(state, words):
    assert due.journal(live(journal_state=state), None, 0.0) == f"journal: NONE IS KEPT: {words}"
    assert "NO JOURNAL" in plain_line(snapshot(journal_state=state))


def test_the_boards_own_times_and_memory_are_told():
    text = " ".join(page(scan_us=4870, scan_longest_us=7520, late_ms=18, stall_ms=87,
                         collect_ms=29, heap_free_B=40100, first_scan_ms=2440).split())

    assert ("board: scan 4.9 ms, 7.5 at most; late 18 ms, flash stall 87 ms, collection 29 ms"
            " at most; 40.1 kB free") in text
    assert "started: power came; first scan after 2.4 s" in text
    # A simulated board once had "0.0 kB free".
    text = " ".join(page(late_ms=18, stall_ms=87, heap_free_B=0).split())
    assert ("board: late 18 ms, flash stall 87 ms at most; scan and memory are not measured there"
            in text)


TRACEBACK = """Traceback (most recent call last):
  File "main.py", line 9, in start
  File "program.py", line 1, in run
  File "program.py", line 2, in go
  File "program.py", line 3, in run
  File "program.py", line 4, in _work
  File "program.py", line 5, in _keep
OSError: 5"""


@pytest.mark.parametrize("reason", [3, 4, 5, 7])
def test_after_an_error_the_end_of_its_traceback_is_shown(reason):
    shown = snapshot(reset_reason=reason)
    shown.error = TRACEBACK
    lines = view(shown, today=TODAY, width=200)

    at = next(at for at, line in enumerate(lines) if line.startswith("ERROR: "))
    assert RESET_REASONS[reason] in lines[at]
    assert lines[at + 1:at + 7] == ["  " + line for line in TRACEBACK.splitlines()[-6:]]


@pytest.mark.parametrize("reason", [0, 1, 2, 6])
def test_an_error_of_an_earlier_start_is_none_of_this_one(reason):
    shown = snapshot(reset_reason=reason)
    shown.error = TRACEBACK
    assert "ERROR" not in "\n".join(view(shown, today=TODAY))


@pytest.mark.parametrize("reason", [3, 4])
def test_an_error_that_made_files_or_board_unusable_is_shown_in_that_safe_mode(reason):
    shown = snapshot(safe_reason=reason)
    shown.error = TRACEBACK
    assert "OSError: 5" in "\n".join(view(shown, today=TODAY))


def test_a_safe_mode_that_ends_by_itself_says_when():
    # The second round lasts 20 minutes; 4 of them are over.
    text = " ".join(page(safe_reason=2, restarts=6, uptime_ds=2400).split())
    assert "three quick restarts; it starts anew by itself in 16 min" in text
    assert "by itself" not in page(safe_reason=1)


def test_a_board_that_cannot_be_made_is_told_in_words_with_when_it_tries_again():
    text = " ".join(page(safe_reason=4, restarts=3, uptime_ds=1800).split())
    assert ("SAFE MODE, everything off, nothing will start: the board's parts cannot be made as"
            " its wiring asks; it starts anew by itself in 7 min") in text


def test_a_program_that_stands_in_for_the_other_is_told_in_words():
    text = " ".join(page(reset_reason=7, restarts=4).split())
    assert ("started: the other slot's program does not stay up, this one runs in its place;"
            ) in text


def test_the_proof_test_is_due_a_year_after_the_last():
    assert "due in 300 days" in due.proof_test("2026-03-28", TODAY)
    assert "35 days overdue" in due.proof_test("2025-04-27", TODAY)
    assert "none noted" in due.proof_test(None, TODAY)
    assert "none noted" in due.proof_test("some day", TODAY)


def test_what_changed_between_two_readings_is_told_in_sentences():
    bit = 1 << elements.number("71H-UP") - 1
    told = changes(live(), live(state=modes.STANDSTILL, acting=bit))

    assert told[0] == "State: standstill, pump off, valve shut."
    assert told[1].startswith("Upper tank full: the contact of its float opened (71H-UP).")
    assert changes(live(), live(boot=13, reset_reason=0)) == [
        "The board started anew (start 13): power came."]
    # Two starts without a journal have no number.
    assert changes(live(boot=0), live(boot=0, uptime_ds=50, reset_reason=3)) == [
        "The board started anew (start 0): a scan failed."]
    assert changes(live(acting=bit), live(acting=bit)) == []
