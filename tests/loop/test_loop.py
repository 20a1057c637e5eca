"""The superloop: on time, on watch, and safe whatever ends it."""

import pytest

from keeper.clock import PERIOD_MS
from keeper.health import SCAN_FAILED, SLACK_FAILED
from tests.loop.scripted import Bench, gaps

TASKS = ("usb", "serial", "keep", "board")
WATCHDOG_MS = 8000
DEFER_MS = 500           # a client that talks on and on holds the flash up for no longer
MOTION_DEFER_MS = 20_000  # nor does a motor, which takes most of that for its travel
COLLECT_PERIODS = 10     # a second


def test_a_scan_happens_every_period_and_none_is_late():
    bench = Bench()
    bench.run(300)
    assert set(gaps(bench.script.times("scan"))) == {PERIOD_MS}
    assert (bench.health.late_ms, bench.health.late_scans) == (0, 0)


def test_the_period_is_kept_when_the_ticks_wrap():
    bench = Bench(start_ms=(1 << 30) - 5000)
    bench.run(100)
    assert set(gaps(bench.script.times("scan"))) == {PERIOD_MS}


def test_between_two_scans_every_task_has_its_turn():
    bench = Bench()
    bench.run(50)
    scans = bench.script.times("scan")
    for task in TASKS:
        times = bench.script.times(task)
        assert all(any(a <= t < b for t in times) for a, b in zip(scans, scans[1:], strict=False))


def test_memory_is_collected_in_slack_once_a_second():
    bench = Bench()
    bench.run(100)
    assert len(bench.script.times("collect")) == 100 // COLLECT_PERIODS


# Every way out is safe

POINTS = ("scan", "usb", "serial", "keep", "board", "collect", "feed", "sleep", "blink",
          "stay_out", "usb reply", "healthy")  # fmt: skip


@pytest.mark.parametrize("point", POINTS)
@pytest.mark.parametrize("error", [OSError(5), MemoryError(), KeyboardInterrupt(), SystemExit()])
def test_an_error_at_any_point_ends_safe_and_goes_on_to_the_loader(point, error, monkeypatch):
    monkeypatch.setattr("keeper.loop.HEALTHY_PERIODS", 20)
    bench = Bench()
    bench.usb.incoming = 8
    bench.script.faults[point] = error
    with pytest.raises(type(error)):
        bench.loop.run()
    assert bench.script.record[-1][1] == "safe"
    assert bench.script.depth == 0
    expected = SCAN_FAILED if point == "scan" else SLACK_FAILED
    assert bench.loop.failure == expected


def test_an_error_after_hours_is_no_different():
    bench = Bench()
    bench.run(5000)
    bench.script.hooks.clear()
    bench.script.faults["board"] = ValueError("late")
    with pytest.raises(ValueError, match="late"):
        bench.loop.run()
    assert bench.script.record[-1][1] == "safe"


# The watchdog


def test_the_watchdog_is_fed_only_after_a_scan_and_when_every_task_has_run():
    bench = Bench()
    bench.run(200)
    since = set()
    for _, name in bench.script.record:
        if name == "feed":
            assert since >= {"scan", *TASKS}
            since = set()
        since.add(name)
    assert len(bench.script.times("feed")) > 10


@pytest.mark.parametrize("task", TASKS)
def test_the_watchdog_bites_when_a_task_hangs(task):
    bench = Bench()
    bench.run(20, at=bench.stall(10, task, 60_000))
    assert max(gaps(bench.script.times("feed"))) > WATCHDOG_MS


def test_the_watchdog_is_never_fed_when_a_task_does_not_check_in():
    bench = Bench()
    bench.loop.all_in |= 1 << len(bench.loop.tasks)
    bench.run(200)
    assert bench.script.times("feed") == []


@pytest.mark.parametrize("scan_ms", [90, 150, 400])
def test_scans_that_take_too_long_starve_neither_the_tasks_nor_the_watchdog(scan_ms):
    bench = Bench()
    bench.script.costs["scan"] = scan_ms
    bench.run(60)
    assert max(gaps(bench.script.times("feed"))) < WATCHDOG_MS
    assert set(TASKS) <= {name for _, name in bench.script.record}


# Lines before flash


def test_a_request_is_answered_before_the_next_work_on_the_flash():
    bench = Bench()
    bench.run(10)
    bench.usb.incoming = 8
    at = len(bench.script.record)
    bench.run(1)
    names = [name for _, name in bench.script.record[at:]]
    assert "usb reply" in names
    # At most the piece whose turn it was comes before it.
    assert names[: names.index("usb reply")].count("keep") <= 1


def test_the_flash_waits_for_a_reply_that_is_leaving():
    bench = Bench()
    bench.run(10)
    bench.serial.busy_ms = 150
    bench.serial.incoming = 8
    bench.run(5)
    began = bench.script.times("serial reply")[0]
    assert [ms for ms in bench.script.times("keep") if began < ms < began + 150] == []


def test_the_flash_waits_for_the_rest_of_a_request():
    """A stall of the flash looked like the silence behind a broken request: it was dropped."""
    bench = Bench()
    bench.run(10)
    begun = bench.script.ms()
    bench.serial.incoming = 5
    bench.run(2)
    half = bench.script.ms()
    bench.serial.incoming = 3
    bench.run(2)

    answered = bench.script.times("serial reply")[0]
    assert half <= answered
    # At most the piece whose turn it was comes before the request has been seen.
    assert len([ms for ms in bench.script.times("keep") if begun < ms < answered]) <= 1


def test_half_a_request_does_not_hold_the_flash_up_for_ever():
    bench = Bench()
    bench.serial.incoming = 5
    bench.run(100)
    assert max(gaps(bench.script.times("keep"))) <= DEFER_MS + PERIOD_MS


def test_a_line_that_never_ends_does_not_hold_the_flash_up_for_ever():
    bench = Bench()
    bench.serial.busy_ms = 10_000_000
    bench.serial.incoming = 8
    bench.run(100)
    assert max(gaps(bench.script.times("keep"))) <= DEFER_MS + PERIOD_MS


def test_the_flash_waits_for_a_motor_that_would_run_on_but_not_for_ever():
    bench = Bench()
    bench.board.moves = True
    bench.run(450)
    times = bench.script.times("keep")
    assert times[0] >= MOTION_DEFER_MS
    assert max(gaps(times)) <= MOTION_DEFER_MS + PERIOD_MS


def test_an_answer_on_a_shared_pair_leaves_a_silence_first():
    bench = Bench()
    bench.run(5)
    bench.serial.incoming = 8
    at = bench.script.ms()
    bench.run(2)
    reply = bench.script.times("serial reply")[0]
    assert 4 <= reply - at <= 20


def test_a_line_in_use_is_looked_at_more_often():
    quiet, busy = Bench(), Bench()
    quiet.run(20)
    busy.script.hooks["usb"] = lambda: setattr(busy.usb, "incoming", 1)
    busy.run(20)
    assert len(busy.script.times("serial")) > 2 * len(quiet.script.times("serial"))


# Leaving for maintenance


def test_an_order_to_leave_ends_the_loop_safe_after_its_answer_has_left():
    bench = Bench()
    bench.serial.busy_ms = 300
    bench.serial.incoming = 8
    bench.script.hooks["serial reply"] = lambda: setattr(bench.keeper, "leaving", True)
    assert bench.loop.run() is True
    reply = bench.script.times("serial reply")[0]
    assert bench.script.record[-1][1] == "safe"
    assert bench.script.record[-1][0] >= reply + 300
    assert len(bench.script.times("scan")) >= 3  # it protects to the end


# Starting anew by itself


def test_a_retry_that_is_due_ends_the_loop_safe_and_says_so():
    bench = Bench()
    bench.script.hooks["collect"] = lambda: setattr(bench.retry, "due", True)
    assert bench.loop.run() is False
    assert bench.script.record[-1][1] == "safe"


def test_a_retry_waits_for_whoever_is_asking():
    bench = Bench()
    bench.retry.due = True
    asked = [30]

    def ask():
        if asked[0]:
            asked[0] -= 1
            bench.usb.incoming = 8

    bench.script.hooks["usb"] = ask
    bench.usb.incoming = 8
    bench.loop.ports[0].was_heard = True
    assert bench.loop.run() is False
    assert asked[0] == 0


def test_maintenance_comes_before_a_retry():
    bench = Bench()
    bench.retry.due = True
    bench.keeper.leaving = True
    assert bench.loop.run() is True
