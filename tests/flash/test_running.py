"""The way out of a running keeper and the greeting afterwards, on a clock that moves when told."""

import types

import pytest

from forebay import ports
from forebay.flash import FlashError, running
from forebay.flash.running import NoHelloError
from forebay.wire.client import NoAnswer, WireError
from forebay.words.operation import REFUSALS
from keeper import health
from keeper.operation import orders

PORT = "/dev/ttyACM0"
HEALTHY = {"uptime_ds": 50, "reset_reason": health.ORDERED, "restarts": 0}


class Board:
    """Answers greetings and orders as told. Attributes: asked, ordered, told, slept_s."""

    def __init__(self, patch, answers=(), refusal=orders.DONE):
        """answers: what each greeting gives, the last one for ever; an error is raised."""
        self.answers, self.refusal = list(answers) or [None], refusal
        self.asked, self.ordered, self.told = [], [], []
        self.now_s = 1000.0
        self.slept_s = 0.0
        clock = types.SimpleNamespace(monotonic=lambda: self.now_s, sleep=self._sleep)
        patch.setattr(running, "time", clock)
        patch.setattr(running, "maybe_greeting", self._greeting)
        patch.setattr(ports, "same_board", lambda port, number: port)

    def _sleep(self, seconds):
        self.slept_s += seconds
        self.now_s += seconds

    def _greeting(self, port, patience_s=1.0):
        self.asked.append((port, patience_s))
        self.now_s += patience_s
        answer = self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]
        if isinstance(answer, Exception):
            raise answer
        return answer

    def order(self, *words):
        self.ordered.append(words)
        return self.refusal

    def tell(self, *words):
        self.told.append(words)


@pytest.fixture
def board(monkeypatch):
    return lambda *answers, **more: Board(monkeypatch, answers, **more)


# Greeting


class Wire:
    """A line to a board, or to nobody: an error is raised where it says."""

    def __init__(self, at_opening=None, at_reading=None):
        self.at_opening, self.at_reading = at_opening, at_reading
        self.opened = []
        self.closed = 0

    def open(self, port, timeout_s):
        self.opened.append((port, timeout_s))
        if self.at_opening:
            raise self.at_opening
        return self

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.closed += 1

    def values(self, *names):
        if self.at_reading:
            raise self.at_reading
        return dict.fromkeys(names, 7)


def test_a_greeting_is_what_a_flash_must_know_of_a_keeper(monkeypatch):
    wire = Wire()
    monkeypatch.setattr(running, "Board", wire.open)
    live = running.maybe_greeting(PORT, 0.4)
    assert set(live or ()) == {"rig_id", "settings_crc", "boot", "uptime_ds", "firmware_version",
                               "firmware_hash", "safe_reason", "restarts", "reset_reason"}
    assert wire.opened == [(PORT, 0.4)]
    assert wire.closed == 1


@pytest.mark.parametrize("wire", [Wire(at_opening=WireError("no port")),
                                  Wire(at_reading=NoAnswer("silence"))])
def test_who_is_not_there_does_not_greet(monkeypatch, wire):
    monkeypatch.setattr(running, "Board", wire.open)
    assert running.maybe_greeting(PORT) is None


def test_who_answers_otherwise_than_a_keeper_is_told_with_the_way_in(monkeypatch):
    monkeypatch.setattr(running, "Board", Wire(at_reading=WireError("version 9")).open)
    with pytest.raises(FlashError, match="version 9; or hold its button for 5 s"):
        running.maybe_greeting(PORT)


# Leaving


@pytest.mark.parametrize(("stop", "how"), [(False, 1), (True, 2)])
def test_it_orders_maintenance_for_the_laptops_tools_and_ends_what_runs_only_if_told(
        board, stop, how):
    found = board(None)
    running.leave(PORT, stop, found.order, found.tell)
    assert found.ordered == [(PORT, orders.MAINTAIN, how, 1)]
    assert len(found.asked) == 1


def test_it_waits_until_nobody_greets_any_more(board):
    found = board(HEALTHY, HEALTHY, None)
    running.leave(PORT, False, found.order, found.tell)
    assert len(found.asked) == 3
    assert {patience_s for _, patience_s in found.asked} == {running.PARTING_S}
    assert len(found.told) == 2
    assert found.slept_s == pytest.approx(2 * running.LOOK_S)  # the line is left alone meanwhile


def test_a_board_that_does_not_leave_is_told_after_two_and_a_half_minutes(board):
    found = board(HEALTHY)
    began_s = found.now_s
    with pytest.raises(FlashError, match="did not leave its program within 150 s: see whether the"
                                         " valve moves"):
        running.leave(PORT, False, found.order, found.tell)
    assert 150 <= found.now_s - began_s <= 152


@pytest.mark.parametrize(("refusal", "said"), [
    (orders.RUNS, r"the board stays as it is: .*: wait for its end, or stop it with --stop$"),
    (orders.SAFE, r"the board stays as it is: [^:]*$"),
    (200, r"the board stays as it is: reason 200$")])
def test_a_refusal_is_told_in_the_keepers_words_and_what_to_do_if_something_runs(
        board, refusal, said):
    found = board(None, refusal=refusal)
    with pytest.raises(FlashError, match=said):
        running.leave(PORT, False, found.order, found.tell)
    assert found.asked == []


def test_a_refusal_just_beyond_the_known_ones_is_told_by_its_number(board):
    beyond = len(orders.REFUSALS)
    last = REFUSALS[beyond - 1]
    for number, said in ((beyond - 1, last), (beyond, f"reason {beyond}")):
        with pytest.raises(FlashError, match=said):
            running.leave(PORT, False, board(None, refusal=number).order, lambda *_: None)


# The start


def test_a_keeper_is_healthy_once_it_has_run_for_five_seconds(board):
    early = [{**HEALTHY, "uptime_ds": uptime_ds} for uptime_ds in (3, 30, 49)]
    found = board(None, *early, HEALTHY)
    port, live = running.wait_healthy(PORT, "", found.tell)
    assert (port, live) == (PORT, HEALTHY)
    assert len(found.asked) == 5
    assert [words[0] for words in found.told] == ["waiting for the start"] + [
        "watching the start"] * 3
    assert found.slept_s == pytest.approx(4 * running.LOOK_S)
    assert [words[1:] for words in found.told[1:]] == [(3, 50), (30, 50), (49, 50)]


def test_a_keeper_that_never_answers_is_told_after_a_minute(board):
    found = board(None)
    began_s = found.now_s
    with pytest.raises(NoHelloError, match="did not say hello within 60 s of its restart"):
        running.wait_healthy(PORT, "", found.tell)
    assert 60 <= found.now_s - began_s <= 62


def test_a_late_answer_that_looks_strange_is_asked_again(board):
    found = board(FlashError("strange"), HEALTHY)
    assert running.wait_healthy(PORT, "", found.tell)[1] == HEALTHY


def test_a_board_that_stays_strange_is_told_so_and_one_that_fell_silent_as_silent(board):
    """One strange answer long ago used to hide that nobody said hello, and the error kept."""
    with pytest.raises(FlashError, match="strange"):
        running.wait_healthy(PORT, "", board(FlashError("strange")).tell)
    with pytest.raises(NoHelloError):
        running.wait_healthy(PORT, "", board(FlashError("strange"), None).tell)


def aged(*uptimes_s, **more):
    return [{**HEALTHY, "uptime_ds": 10 * uptime_s, **more} for uptime_s in uptimes_s]


def wait_trial(board, is_deployed=lambda live: True):
    return running.wait_trial(PORT, "", board.tell, is_deployed)


def test_a_slot_is_taken_for_good_by_a_start_that_lives_on_for_five_minutes(board):
    found = board(*aged(6, 299), None, *aged(2, 299, 315, 400))
    assert wait_trial(found) == (PORT, aged(315)[0])
    assert ("on trial", 299, running.TRIAL_S) in found.told
    assert running.TRIAL_S >= 300


def test_a_slot_that_was_given_up_is_not_waited_for(board):
    found = board(*aged(6, 280, 3))
    assert wait_trial(found, lambda live: live["uptime_ds"] != 30) == (PORT, aged(3)[0])


@pytest.mark.parametrize(("answers", "said"), [
    ([*aged(6), None], "said nothing for 60 s"),
    (aged(6), "no start of it ran on for 5 min")])
def test_a_trial_that_never_ends_is_told(board, answers, said):
    found = board(*answers)
    with pytest.raises(NoHelloError, match=said):
        wait_trial(found)
    assert found.slept_s <= 3 * (running.TRIAL_S + 60)


def test_the_board_is_followed_to_another_port(board, monkeypatch):
    found = board(None, HEALTHY)
    names = iter([PORT, "/dev/ttyACM1"])
    monkeypatch.setattr(ports, "same_board", lambda port, number: next(names))
    assert running.wait_healthy(PORT, "E66", found.tell)[0] == "/dev/ttyACM1"
    assert [port for port, _ in found.asked] == [PORT, "/dev/ttyACM1"]


@pytest.mark.parametrize(("reason", "restarts", "is_first"), [
    (health.ORDERED, 0, True), (health.ORDERED, 1, False), (health.POWER_ON, 0, False),
    (health.START_FAILED, 1, False), (health.WATCHDOG, 0, False)])
def test_only_a_start_by_order_without_a_restart_since_is_the_first_one(
        reason, restarts, is_first):
    assert running.is_first_start({"reset_reason": reason, "restarts": restarts}) == is_first
