"""A sitting left at any question, or cut off in any reading, goes on from there."""

import pytest

from forebay.asking import Kept, Left
from forebay.calibrate import work
from forebay.calibrate.sitting import CalibrateError, Sitting
from tests.calibrate.practice import DEMO, Hands
from tests.twin.rigs import PUMPING, steady, twin

FLOW = {"bucket_frac": "0.2 %", "bucket_reading": "20 mL", "*_buckets": "3"}
# A rig with one meter, so that there is less to play.
RIG = DEMO


def hands_at(folder, given):
    hands = Hands(twin(folder, steady(900.0), {"upper.start_volume_m3": 0.3}), given)
    hands.until(PUMPING)
    return hands


def sitting_of(hands, folder):
    return Sitting(RIG, hands, Kept(folder / "kept.json"), hands.told.append, hands)


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    """Gives the names of all questions of a bucket test, in their order."""
    folder = tmp_path_factory.mktemp("asked")
    hands = hands_at(folder, FLOW)
    work.found("flow", sitting_of(hands, folder))
    return hands.asked


def test_left_at_every_question_in_turn_it_goes_on_to_its_end(tmp_path, asked):
    hands = hands_at(tmp_path, FLOW)
    for name in dict.fromkeys(asked):
        hands.leave_at = name
        with pytest.raises(Left):
            work.found("flow", sitting_of(hands, tmp_path))
        assert hands.asked[-1] == name
    hands.leave_at = None
    outcome = work.found("flow", sitting_of(hands, tmp_path))
    up, down = outcome.figures
    gain = hands.twin.sensors.gain
    assert abs(up.value - 450 * gain[8]) < 2 * up.u
    assert abs(down.value - 450 * gain[9]) < 2 * down.u
    # Asked again was only what a bucket that was left half full must begin with.
    again = [one for one in set(hands.asked) if hands.asked.count(one) > 2]
    assert all(one.endswith(("_in", "_out")) for one in again), again


class Gone(Exception):
    """The board's line breaks."""


def test_a_line_that_breaks_at_any_reading_costs_that_reading_alone(tmp_path):
    hands = hands_at(tmp_path, {"dip_reading": "2 mm", "rule_zero": "1 mm", "dips": "3"})
    levels = {"dip_1": 0.2, "dip_2": 0.5, "dip_3": 0.8}
    plain, reads = hands.values, [0]

    def dip(hands, question):
        hands.plant.upper.volume_m3 = hands.plant.upper.level_m = levels[question.name]
        hands.rest(5)
        return f"{1e3 * hands.plant.upper.level_m} mm"

    hands.given.update({f"*{name}": dip for name in levels})
    answers = 0
    for _ in range(4):
        hands.values, reads[0] = _breaking(plain, reads), 0
        try:
            work.found("level", sitting_of(hands, tmp_path))
            break
        except Gone:
            answers = len(set(hands.asked))
    assert answers == 6
    assert [hands.asked.count(name) for name in levels] == [1, 1, 1]


def _breaking(plain, reads):
    """Returns a look at the board that breaks after more than one reading's looks."""
    def values(*names):
        reads[0] += 1
        if reads[0] > 45:
            raise Gone
        return plain(*names)
    return values


def test_a_skipped_question_that_nothing_can_do_without_is_asked_again(tmp_path):
    from forebay.asking.questions import read_answer

    hands = hands_at(tmp_path, {})
    hands.to = lambda question: read_answer(question, "skip no rule here")
    sitting = sitting_of(hands, tmp_path)
    with pytest.raises(CalibrateError, match="dip_reading"):
        work.found("level", sitting)
    assert not sitting.is_kept("dip_reading")


def test_what_was_read_goes_by_the_description_of_then(tmp_path):
    # The file may have been written by a sitting that was cut off behind that.
    hands = hands_at(tmp_path, FLOW)
    first = work.found("flow", sitting_of(hands, tmp_path))
    from forebay.calibrate import writing

    changed = writing.proposed(RIG, first)
    again = work.found("flow", Sitting(changed, hands, Kept(tmp_path / "kept.json"),
                                       hands.told.append, hands))
    assert again.figures == first.figures
