"""The whole scan on a scripted board: time, validation, flows, and what must never be."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from keeper import channels as ch
from keeper import modes as mo
from keeper import settings as st
from keeper.clock import PERIOD_MS
from tests.keeper.scripted import HEALTHY, NUMBERS, Bench, ScriptedBoard, settings_with
from tests.keeper.small_int import SmallInt


def test_the_settings_of_these_tests_are_legal():
    assert [name for name, _ in NUMBERS] == list(st.NAMES)
    assert st.problems(settings_with()) == []


HIGHEST_FLOW = int(ch.CHANNELS[ch.FLOW_UP][ch.CH_HIGH])
# Short waits, so that a short random story comes through many states.
QUICK = (
    ("start_wait_s", 1), ("trial_s", 2), ("holdoff_s", 1), ("holdoff_longest_s", 2),
    ("pump_least_on_s", 2), ("pump_least_off_s", 1), ("light_least_off_s", 1), ("dark_s", 1),
    ("trip_wait_s", 10), ("trip_window_s", 60), ("useful_flow_uL_s", 5000),
)  # fmt: skip


def readings(place):
    """Legal, extreme, out of range and untrusted values of an analogue channel."""
    low, high = ch.CHANNELS[place][ch.CH_LOW], ch.CHANNELS[place][ch.CH_HIGH]
    rare = some.sampled_from([low, high, low - 1, high + 1, ch.INVALID, (1 << 30) - 1])
    return some.one_of(some.integers(low, high), some.just(dict(HEALTHY).get(place, 0)), rare)


# What moves the rig through its states.
GUIDE = some.sampled_from(
    [
        [(ch.PANEL_MV, 30000)],
        [*HEALTHY, (ch.PANEL_MV, 30000), (ch.PULSES_UP, 5)],
        [*HEALTHY, (ch.PANEL_MV, 0)],
        [(ch.PULSES_UP, 0)],
        [(ch.VALVE_PERMILLE, 0)],
        list(HEALTHY),
    ]
)
ANYTHING = some.one_of(
    *[
        readings(place).map(lambda value, place=place: [(place, value)])
        for place in range(ch.COLUMNS)
    ],
    *[
        some.sampled_from([0, 1, 1]).map(lambda value, place=place: [(place, value)])
        for place in range(ch.COLUMNS, ch.COLUMNS + len(ch.CONTACTS))
    ],
    *[
        some.sampled_from([0, 3, 7, 536, 100_000, -1, ch.INVALID, (1 << 30) - 1]).map(
            lambda value, place=place: [(place, value)]
        )
        for place in (ch.PULSES_UP, ch.PULSES_DOWN)
    ],
)
# Not one_of: it would give the guide one share in some twenty.
CHANGE = some.booleans().flatmap(lambda guided: GUIDE if guided else ANYTHING)
SCANS = some.sampled_from([1, 2, 5, 15, 30, 60])
PASSED_MS = some.sampled_from([100] * 8 + [40, 99, 101, 240, 1300, (1 << 30) - 1])
STORY = some.lists(some.tuples(CHANGE, SCANS, PASSED_MS, some.booleans()), max_size=25)


@given(STORY)
@settings(max_examples=150)
def test_whatever_is_read_the_outputs_are_safe_at_every_scan(story):
    """Also: nothing raises, and no number leaves 31 bits."""
    bench = Bench(QUICK)
    for changes, scans, passed_ms, follows in story:
        bench.set([(place, SmallInt(value)) for place, value in changes])
        bench.board.valve_follows = follows
        for _ in range(scans):
            before = bench.state
            bench.step(passed_ms)
            bench.drain()
            assert bench.unsafe() is None
            pump = bench.board.outputs[ch.OUT_PUMP]
            if pump and before not in (mo.TRIAL, mo.PUMPING):
                assert 0 <= bench.scan.values[ch.VALVE_PERMILLE] + 20 <= 35
            acting = bench.scan.protection
            assert not (pump and acting.hold & 1)
            assert 0 <= bench.scan.values[ch.FLOW_UP] <= HIGHEST_FLOW
            assert min(bench.scan.totals.low) >= 0
            assert max(bench.scan.totals.low) < ch.LIMB


def test_random_stories_come_through_every_state():
    """The test above would prove little if its changes led nowhere."""
    seen = set()

    @given(STORY)
    @settings(max_examples=150, database=None)
    def look(story):
        bench = Bench(QUICK)
        for changes, scans, _, follows in story:
            bench.set(changes)
            bench.board.valve_follows = follows
            for _ in range(scans):
                bench.step()
                bench.drain()
                seen.add(bench.state)

    look()
    assert seen == set(range(len(mo.STATES))) - {mo.DRAINING, mo.MAINTENANCE}  # by order only


@pytest.mark.parametrize("place", sorted({*range(ch.COLUMNS)} - {ch.FLOW_UP, ch.FLOW_DOWN}))
def test_a_channel_is_trusted_up_to_its_limits_and_not_beyond(place):
    bench = Bench()
    low, high = ch.CHANNELS[place][ch.CH_LOW], ch.CHANNELS[place][ch.CH_HIGH]
    for value, kept in ((low, low), (high, high), (low - 1, ch.INVALID), (high + 1, ch.INVALID)):
        bench.run(1, [(place, value)])
        assert bench.scan.values[place] == kept
        assert bench.scan.bad == (1 << place if kept == ch.INVALID else 0)


def test_a_bad_current_counts_as_no_energy_and_stays_marked():
    bench = Bench()
    bench.run(100, [(ch.PANEL_MV, 20000), (ch.PANEL_MA, 9000)])
    bench.scan.totals.settle()
    assert bench.scan.totals.low[ch.T_PANEL] == 0
    assert bench.scan.values[ch.PANEL_MA] == ch.INVALID
    assert bench.scan.values[ch.PANEL_MV] == 20000


def test_energy_of_ten_seconds_by_hand():
    """20 V * 1.5 A * 10 s = 300 J; 5 pulses of 1 mL a scan = 500 mL."""
    bench = Bench()
    bench.run(100, [(ch.PANEL_MV, 20000), (ch.PANEL_MA, 1500), (ch.PULSES_UP, 5)])
    bench.scan.totals.settle()
    assert bench.scan.totals.low[ch.T_PANEL] == 300_000
    assert bench.scan.totals.low[ch.T_UP] == 500_000


@pytest.mark.parametrize("pattern", [[100], [99, 101], [50, 150], [100, 1340, 60], [90, 95, 115]])
def test_time_and_energy_are_right_however_the_scans_jitter(pattern):
    bench = Bench()
    bench.set([(ch.PANEL_MV, 10000), (ch.PANEL_MA, 1000)])
    bench.step()
    for _ in range(600):
        for passed_ms in pattern:
            bench.step(passed_ms)
            bench.drain()
    expected_ds = 1 + 6 * sum(pattern)
    assert bench.scan.uptime_ds == expected_ds
    bench.scan.totals.settle()
    assert bench.scan.totals.low[ch.T_PANEL] == expected_ds * 1000  # 10 W, 0.1 s each


def test_the_wrap_of_the_ticks_is_an_ordinary_scan():
    bench = Bench()
    bench.now_ms = (1 << 30) - 250
    bench.run(10)
    assert bench.now_ms < 1000
    assert bench.scan.uptime_ds == 10


def test_a_clock_that_steps_back_is_a_long_pause_and_no_error():
    bench = Bench()
    bench.run(5)
    bench.step(40)
    bench.step(-1)
    assert bench.scan.uptime_ds <= 5 + 601


@pytest.mark.parametrize("pulses", [1, 5, 60])
def test_the_flow_is_the_pulses_of_two_seconds(pulses):
    bench = Bench()
    bench.run(19, [(ch.PULSES_UP, pulses), (ch.PULSES_DOWN, pulses)])
    assert bench.scan.values[ch.FLOW_UP] < pulses * 10_000
    bench.run(1)
    assert bench.scan.values[ch.FLOW_UP] == pulses * 10_000  # 1 mL a pulse, 10 scans a second
    bench.run(20, [(ch.PULSES_UP, 0)])
    assert bench.scan.values[ch.FLOW_UP] == 0
    assert bench.scan.values[ch.FLOW_DOWN] == pulses * 10_000


BOUNDED = [(-1, 0), (ch.INVALID, 0), (537, 536), (1 << 29, 536)]


@pytest.mark.parametrize(("pulses", "kept"), BOUNDED)
@pytest.mark.parametrize("place", [ch.PULSES_UP, ch.PULSES_DOWN])
def test_pulses_that_no_meter_gives_are_bounded(place, pulses, kept):
    """536 pulses of 1 mL in a scan is what the totals can take: below 2**29 nL."""
    bench = Bench()
    bench.run(30, [(place, pulses)])
    assert bench.scan.values[place] == kept
    flow = ch.FLOW_UP if place == ch.PULSES_UP else ch.FLOW_DOWN
    assert bench.scan.values[flow] == min(kept * 10_000, HIGHEST_FLOW)


def test_outputs_are_off_before_the_first_scan_and_written_at_each():
    written = []

    class Board(ScriptedBoard):
        def write(self, outputs):
            written.append(list(outputs))
            super().write(outputs)

    bench = Bench(board=Board())
    assert bench.scan.outputs == [0] * len(ch.OUTPUTS)
    bench.run(25)
    # A start presses the valve shut for 0.8 s: nobody knows whether it seats.
    pressed = [[0] * ch.OUT_DRIVE + [-100]] * 8
    assert written == pressed + [[0] * len(ch.OUTPUTS)] * 17


@pytest.mark.parametrize("place", [ch.GENERATOR_MV, ch.LAMP_MA])
def test_a_lamp_power_that_is_not_known_never_opens_the_valve(place):
    bench = Bench([("generator_delay_ms", 1000), ("trip_retries", 10)])
    bench.set([(ch.PANEL_MV, 0)])
    while bench.state != mo.RUNNING:
        bench.run()
    bench.run(20)
    told = bench.board.outputs[ch.OUT_VALVE]
    bench.run(4, [(place, ch.INVALID)])  # its own element has not acted yet
    assert bench.state == mo.RUNNING
    assert bench.board.outputs[ch.OUT_VALVE] <= told


def test_a_valve_s_motor_runs_for_a_whole_scan_at_most():
    assert ch.OUTPUTS[ch.OUT_DRIVE][1:] == (-PERIOD_MS, PERIOD_MS)
