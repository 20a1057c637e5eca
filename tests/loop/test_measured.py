"""What the loop measures of itself, and publishes."""

import pytest

from keeper.clock import PERIOD_MS
from tests.loop.scripted import Bench, gaps

FIVE_MINUTES_MS = 300_000


def test_a_stall_of_the_flash_is_measured_as_stall_and_as_lateness():
    bench = Bench()
    bench.run(20, at=bench.stall(10, "keep", 1200))
    assert bench.health.stall_ms == 1200
    assert 1100 <= bench.health.late_ms <= 1200
    assert bench.health.late_scans == 1


def test_missed_scans_are_not_made_up_for_and_the_phase_is_kept():
    bench = Bench()
    bench.run(20, at=bench.stall(10, "keep", 250))
    scans = bench.script.times("scan")
    late = [ms for ms in scans if ms % PERIOD_MS]
    assert len(late) == 1
    assert gaps([ms for ms in scans if ms != late[0]]).count(PERIOD_MS) == len(scans) - 3
    assert min(gaps(scans)) > 0


def test_a_scan_a_little_late_is_no_late_scan():
    bench = Bench()
    bench.script.costs["board"] = 37
    bench.run(50)
    assert 0 < bench.health.late_ms <= 37
    assert bench.health.late_scans == 0


@pytest.mark.parametrize(("busy_ms", "awake"), [(0, (0, 20)), (30, (280, 330)), (60, (580, 630))])
def test_the_share_of_time_awake_is_published_every_minute(busy_ms, awake):
    bench = Bench()
    bench.script.costs["scan"] = busy_ms
    assert bench.health.awake_permille == 1000
    bench.run(1300)
    assert awake[0] <= bench.health.awake_permille <= awake[1]


def test_faults_of_the_drivers_are_published_and_bounded():
    bench = Bench()
    bench.board.faults = 70000
    bench.run(3)
    assert bench.health.bus_errors == 65535


def test_a_start_is_called_healthy_once_after_five_minutes():
    bench = Bench()
    bench.run(2 * FIVE_MINUTES_MS // PERIOD_MS)
    told_ms = bench.script.times("healthy")
    assert len(told_ms) == 1
    assert 0 <= FIVE_MINUTES_MS - told_ms[0] <= PERIOD_MS  # in the scan that completes them


def test_the_newest_and_the_longest_scan_are_published_in_microseconds():
    bench = Bench()
    bench.script.costs["scan"] = 4.25
    bench.run(20, at=bench.stall(10, "scan", 7.5))
    assert bench.health.scan_longest_us == 7500
    bench.script.costs["scan"] = 4.25
    bench.run(3)
    assert bench.health.scan_us == 4250
    assert bench.health.scan_longest_us == 7500


def test_the_longest_collection_and_what_the_newest_left_free_are_published():
    bench = Bench()
    bench.script.costs["collect"] = 29
    bench.run(15)
    bench.script.costs["collect"] = 11
    bench.script.free_B = 43210
    bench.run(15)
    assert bench.health.collect_ms == 29
    assert bench.health.heap_free_B == 43210


def test_the_first_scan_is_published_by_the_chips_ticks():
    bench = Bench(start_ms=2345)
    bench.run(5)
    assert bench.health.first_scan_ms == bench.script.times("scan")[0] == 2345


def test_the_light_takes_one_step_in_every_period():
    bench = Bench()
    bench.run(50)
    assert len(bench.script.times("blink")) == 50
