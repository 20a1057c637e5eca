"""How long the loop rests between its tasks, and when it begins none any more."""

import pytest

from tests.loop.scripted import Bench

PERIOD_MS = 100
REST_MS, SHORT_REST_MS = 5, 1  # a quiet board; one whose line is in use
IN_USE_MS = 100                # after the newest byte
GUARD_MS = 8                   # the longest piece of a driver takes 7
TASKS = ("usb", "serial", "keep", "board")


class Watched(Bench):
    """A loop on a script. Attribute: rests, (ms at which it began, how long)."""

    def __init__(self):
        super().__init__()
        self.rests: list[tuple[int, int]] = []
        rest = self.script.sleep_ms

        def sleep_ms(ms):
            self.rests.append((self.script.ms(), ms))
            rest(ms)

        setattr(self.script, "sleep_ms", sleep_ms)  # noqa: B010 - it takes the method's place


def before_guard(rests):
    """Returns the lengths of rests that began while there was time for a task."""
    return [length for ms, length in rests if PERIOD_MS - ms % PERIOD_MS > GUARD_MS]


def test_a_quiet_board_rests_five_milliseconds_at_a_time_and_never_beyond_its_scan():
    bench = Watched()
    bench.run(20)
    assert set(before_guard(bench.rests)) == {REST_MS}
    assert all(ms % PERIOD_MS + length <= PERIOD_MS for ms, length in bench.rests)
    assert sum(length for _, length in bench.rests) == 20 * PERIOD_MS


def test_a_line_in_use_is_looked_at_every_millisecond_until_it_is_quiet_for_a_tenth():
    bench = Watched()
    bench.run(5)
    bench.usb.incoming = 8
    heard_ms = bench.script.ms()
    bench.rests.clear()
    bench.run(5)
    # Seen at the latest after one period, in which each task had a turn.
    soon = [length for ms, length in bench.rests if heard_ms + 10 < ms < heard_ms + IN_USE_MS]
    late = [(ms, length) for ms, length in bench.rests if ms > heard_ms + IN_USE_MS + REST_MS]
    assert set(soon) == {SHORT_REST_MS}
    assert set(before_guard(late)) == {REST_MS}


@pytest.mark.parametrize("cost_ms", [0, 3])
def test_no_task_is_begun_with_so_little_left_that_the_scan_would_be_late(cost_ms):
    bench = Watched()
    bench.script.costs["board"] = cost_ms
    bench.run(20)
    left = [PERIOD_MS - ms % PERIOD_MS for ms, name in bench.script.record if name in TASKS]
    assert min(left) > GUARD_MS
    assert min(left) <= GUARD_MS + REST_MS + cost_ms
    assert bench.health.late_ms == 0


def test_after_a_scan_that_took_its_whole_period_one_task_still_has_its_turn():
    bench = Watched()
    bench.script.costs["scan"] = PERIOD_MS
    bench.run(8)
    names = [name for _, name in bench.script.record]
    between = "".join("|" if name == "scan" else "t" for name in names
                      if name == "scan" or name in TASKS)
    assert "tt" not in between
    assert between.count("t") >= 6
    assert bench.rests == []
