"""Answers are read as meant, refused with what is allowed, and kept as they are given."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as some

from forebay.asking import (
    AskedError,
    Choice,
    Done,
    Filed,
    Kept,
    Left,
    Quantity,
    Skipped,
    Typed,
    Unfinished,
)

VOLTS = Quantity("tp3", "Volts at TP3 against TP0", "voltage", "V", -60.0, 60.0)
WHICH = Choice("wet", "Is the float wet?", {"wet": "under water", "dry": "in the air"})
LIFT = Done("lift", "Lift the float LSH-UP.")


def typed(*lines):
    """Returns answers that are typed line by line, and what was told between."""
    left, told = list(lines), []
    return Typed(lambda text, hint: left.pop(0), told.append), told


@pytest.mark.parametrize(("text", "volts"), [
    ("12.3", 12.3), ("12.3 V", 12.3), (" 12300 mV", 12.3), ("-0.2", -0.2)])
def test_a_reading_is_in_the_meters_unit_unless_it_says_another(text, volts):
    assert typed(text)[0].to(VOLTS) == pytest.approx(volts)


def test_a_line_that_is_no_answer_is_told_and_asked_again():
    answers, told = typed("twelve", "400 V", "12,3", "12.3")
    assert answers.to(VOLTS) == pytest.approx(12.3)
    assert len(told) == 3
    assert all("tp3" in line for line in told)
    assert "-60 V to 60 V" in told[1]


def test_the_begin_of_a_word_is_enough():
    assert typed("d")[0].to(WHICH) == "dry"


def test_a_step_is_left_out_with_a_reason_and_never_without():
    answers, told = typed("skip", "skip no ladder today")
    assert answers.to(LIFT) == Skipped("no ladder today")
    assert "reason" in told[0]


def test_a_person_may_leave_at_every_question():
    for question in (VOLTS, WHICH, LIFT):
        with pytest.raises(Left):
            typed("leave")[0].to(question)


def test_enter_says_that_it_is_done_and_a_stray_word_does_not():
    answers, told = typed("what?", "")
    assert answers.to(LIFT) is True
    assert "Enter" in told[0]


def test_a_file_answers_by_name_and_says_which_name_is_missing(tmp_path):
    path = tmp_path / "answers.toml"
    path.write_text('tp3 = 12.3\nwet = "skip dark"\nlift = true\nother = 1\n', encoding="utf-8")
    answers = Filed.of(path)
    assert answers.to(VOLTS) == pytest.approx(12.3)
    assert answers.to(WHICH) == Skipped("dark")
    assert answers.to(LIFT) is True
    assert answers.unused == {"other"}
    with pytest.raises(AskedError, match=r"answers\.toml: no answer to tp9"):
        answers.to(Done("tp9", "Do it."))


@pytest.mark.parametrize("text", ["tp3 = [1]", "tp3 = ", "tp3 = 400", 'tp3 = "x"'])
def test_a_file_that_cannot_be_used_is_named(tmp_path, text):
    path = tmp_path / "answers.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(AskedError, match=r"answers\.toml"):
        Filed.of(path).to(VOLTS)


def test_what_was_found_is_there_in_the_next_sitting(tmp_path):
    path = tmp_path / "deep" / "prove.json"
    Kept(path).keep("lift", {"seen": True})
    again = Kept(path)
    assert again.found == {"lift": {"seen": True}}
    again.keep("press", 1)
    again.forget("lift")
    assert Kept(path).found == {"press": 1}
    again.end()
    assert Kept(path).found == {}


@pytest.mark.parametrize("text", ["", "[]", '{"version": 99, "found": {}}', '{"version": 1}'])
def test_a_damaged_file_of_a_sitting_is_told_and_left_as_it_is(tmp_path, text):
    path = tmp_path / "prove.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(Unfinished, match=r"prove\.json"):
        Kept(path)
    assert path.read_text(encoding="utf-8") == text


def test_a_finding_that_cannot_be_written_leaves_the_file_of_before(tmp_path, monkeypatch):
    path = tmp_path / "prove.json"
    kept = Kept(path)
    kept.keep("lift", 1)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(Unfinished, match="No space left"):
        kept.keep("press", 2)
    assert json.loads(path.read_text(encoding="utf-8"))["found"] == {"lift": 1}
    assert list(tmp_path.iterdir()) == [path]


@given(some.text(max_size=40))
def test_no_text_is_more_than_an_answer_or_an_error(text):
    for question in (VOLTS, WHICH, LIFT):
        try:
            found = Filed({question.name: text}, "here").to(question)
        except (AskedError, Left):
            continue
        assert isinstance(found, float | str | bool | Skipped)


def test_an_empty_line_is_told_what_is_wanted_and_small_numbers_are_written_out():
    volts = Quantity("digit", "The last digit", "voltage", "V", 1e-6, 1.0)
    assert volts.hint == "0.000001 V to 1 V"
    with pytest.raises(AskedError, match="a reading is wanted, 0.000001 V to 1 V; or: skip"):
        volts.read("  ")


def test_answers_in_a_file_are_unused_until_they_are_asked_for():
    filed = Filed({"digit": "1 mV", "other": "yes"}, "answers.toml")
    assert set(filed.unused) == {"digit", "other"}
    filed.to(Quantity("digit", "The last digit", "voltage", "V", 1e-6, 1.0))
    assert set(filed.unused) == {"other"}
    assert not Typed(lambda *_: "", lambda _: None).unused
