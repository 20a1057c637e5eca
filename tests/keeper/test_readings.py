"""What a scan makes of what is read: trust, reasons, flows and time."""

from collections import deque

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper import channels as ch
from keeper import clock
from keeper import events as ev
from keeper.protection import elements as el
from keeper.scan import LONGEST_DS, PulseWindow
from tests.keeper.scripted import Bench
from tests.keeper.ways import posted

MEASURED = [place for place in range(ch.COLUMNS) if place not in (ch.FLOW_UP, ch.FLOW_DOWN)]
WINDOW_SCANS = 20  # two seconds
# Legal ranges as the instruments' pages give them; V in mV, A in mA, degC in thousandths.
# Common practice, no source: a monitor may read a little below nothing.
LEGAL = {
    ch.PANEL_MV: (-500, 60_000), ch.PANEL_MA: (-500, 8000), ch.PUMP_MA: (-500, 8000),
    ch.GENERATOR_MV: (-500, 40_000), ch.GENERATOR_MA: (-500, 8000), ch.LAMP_MA: (-500, 8000),
    ch.SUPPLY_MV: (-500, 40_000), ch.SUPPLY_MA: (-8000, 8000), ch.LEVEL_MM: (-100, 10_000),
    ch.MOTOR_MDEGC: (-40_000, 125_000), ch.WATER_MDEGC: (-40_000, 125_000),
    # Off by 70 % at an end, and a flicker of 2 %: a broken wire is known by its voltage.
    ch.VALVE_PERMILLE: (-720, 1720),
}  # fmt: skip


def bench_at_rest():
    bench = Bench()
    bench.run(50)
    return bench


# Trust

@pytest.mark.parametrize("place", MEASURED, ids=[ch.CHANNELS[p][ch.CH_NAME] for p in MEASURED])
def test_a_reading_is_legal_from_its_lowest_to_its_highest_value(place):
    low, high = LEGAL[place]
    bench = bench_at_rest()
    for value, legal in ((low - 1, False), (low, True), (high, True), (high + 1, False)):
        bench.run(1, [(place, value)])
        assert bench.scan.values[place] == (value if legal else ch.INVALID)
        assert bench.scan.bad == (0 if legal else 1 << place)


@pytest.mark.parametrize("place", MEASURED)
@pytest.mark.parametrize("reason", ch.REASONS)
def test_the_reason_that_a_driver_gives_is_kept_and_told(place, reason):
    bench = bench_at_rest()
    bench.run(20, [(place, ch.INVALID + reason)])
    assert bench.scan.values[place] == ch.INVALID
    assert bench.scan.why[place] == reason
    assert [event[1:3] for event in posted(bench, ev.READING_BAD)] == [(place, reason)]


@pytest.mark.parametrize("value", [ch.INVALID + len(ch.REASONS), ch.INVALID - 1, (1 << 29)])
def test_a_value_that_is_no_reason_is_out_of_range(value):
    bench = bench_at_rest()
    bench.run(1, [(ch.LEVEL_MM, ch.INVALID + ch.STALE)])
    bench.run(1, [(ch.LEVEL_MM, value)])
    assert bench.scan.values[ch.LEVEL_MM] == ch.INVALID
    assert bench.scan.why[ch.LEVEL_MM] == ch.OUT_OF_RANGE


@pytest.mark.parametrize("place", MEASURED)
def test_an_instrument_that_is_not_fitted_is_never_trusted_and_never_at_fault(place):
    bench = Bench([("fitted", ch.ALL_FITTED & ~(1 << place))])
    bench.run(200)
    assert bench.scan.values[place] == ch.INVALID
    assert bench.scan.bad == 0
    acting = [el.ELEMENTS[i][el.E_ID] for i, on in enumerate(bench.scan.protection.acting) if on]
    assert acting == []


# Flow

def test_without_meters_no_flow_is_seen_and_none_is_bad():
    bench = Bench([("fitted", ch.ALL_FITTED & ~(1 << ch.FLOW_UP | 1 << ch.FLOW_DOWN))])
    bench.run(50)
    assert bench.scan.values[ch.FLOW_UP] == bench.scan.values[ch.FLOW_DOWN] == ch.INVALID
    assert bench.scan.bad == 0


def litres(window_scans, pulse_nL):
    """Flow [uL/s] of the pulses of two seconds, in exact numbers."""
    return sum(window_scans) * pulse_nL / 1000 / 2


@given(
    pulses=some.lists(some.sampled_from([0, 0, 0, 1, 2, 5, 40]), min_size=1, max_size=80),
    pulse_nL=some.sampled_from([1000, 2_222_222, 5_000_000, 500_000_000]),
)
def test_the_flow_is_what_the_last_two_seconds_brought(pulses, pulse_nL):
    window, last = PulseWindow(pulse_nL), deque([0] * WINDOW_SCANS, WINDOW_SCANS)
    for count in pulses:
        if count > window.most:
            continue
        last.append(count)
        exact = litres(last, pulse_nL)
        # The volume of a pulse is cut to a twentieth of a nanolitre, the flow to a microlitre.
        assert -1 - exact / 40 <= window.flow(count) - exact <= 0


# 2 304 167 and 233 are factors of 2**29 - 1: there the product is the largest.
@pytest.mark.parametrize("pulse_nL", [1000, 2_222_222, 2_304_167, 500_000_000])
def test_the_most_pulses_of_a_scan_are_what_the_totals_can_take(pulse_nL):
    most = PulseWindow(pulse_nL).most
    assert most * pulse_nL < 1 << 29 <= (most + 1) * pulse_nL


@pytest.mark.parametrize(
    ("late", "flow_mL_s"), [(1, 50), (2, 47.5), (3, 45), (19, 5), (20, 2.5), (21, 2.5), (600, 2.5)]
)
@pytest.mark.parametrize(("place", "flow"), [(ch.PULSES_UP, ch.FLOW_UP),
                                             (ch.PULSES_DOWN, ch.FLOW_DOWN)])  # fmt: skip
def test_a_late_scan_s_pulses_are_those_of_all_its_time(place, flow, late, flow_mL_s):
    """5 mL in each scan; then a scan as late as so many periods, with 5 mL as well."""
    bench = Bench()
    bench.run(30, [(place, 5)])
    bench.step(late * 100)
    assert bench.scan.values[flow] == flow_mL_s * 1000
    other = ch.FLOW_UP + ch.FLOW_DOWN - flow
    assert bench.scan.values[other] == 0


@pytest.mark.parametrize(("place", "flow"), [(ch.PULSES_UP, ch.FLOW_UP),
                                             (ch.PULSES_DOWN, ch.FLOW_DOWN)])  # fmt: skip
def test_a_single_pulse_is_seen_for_two_seconds(place, flow):
    bench = bench_at_rest()
    bench.run(1, [(place, 1)])
    seen = [bench.scan.values[flow]]
    for _ in range(30):
        bench.run(1, [(place, 0)])
        seen.append(bench.scan.values[flow])
    assert seen == [500] * WINDOW_SCANS + [0] * (31 - WINDOW_SCANS)
    assert not bench.scan.flows


@pytest.mark.parametrize(("up", "down"), [(500, 0), (0, 500), (500, 500)])
def test_a_flow_beyond_its_column_stands_at_its_end(up, down):
    bench = Bench()
    bench.run(30, [(ch.PULSES_UP, up), (ch.PULSES_DOWN, down)])
    assert bench.scan.values[ch.FLOW_UP] == min(up * 10_000, 1_000_000)
    assert bench.scan.values[ch.FLOW_DOWN] == min(down * 10_000, 1_000_000)


@pytest.mark.parametrize(("pulse_nL", "most"), [(1_000_000, 536), (500_000_000, 1)])
@pytest.mark.parametrize("place", [ch.PULSES_UP, ch.PULSES_DOWN])
def test_noise_on_one_meter_leaves_the_other_as_it_is(place, pulse_nL, most):
    bench = Bench([("pulse_up_nL", pulse_nL), ("pulse_down_nL", pulse_nL)])
    other = ch.PULSES_UP + ch.PULSES_DOWN - place
    bench.run(1, [(place, most + 1), (other, 1)])
    assert (bench.scan.values[place], bench.scan.values[other]) == (most, 1)
    bench.run(1, [(place, -5), (other, most)])
    assert (bench.scan.values[place], bench.scan.values[other]) == (0, most)


# Time

def test_the_period_is_a_tenth_of_a_second_to_all():
    assert (clock.PERIOD_MS, clock.PERIODS_PER_S, clock.PERIOD_S) == (100, 10, 0.1)


def test_the_first_scan_stands_for_one_period_whatever_the_ticks_say():
    for now_ms in (0, 100, 5000, (1 << 30) - 1):
        bench = Bench()
        bench.scan.run(now_ms)
        assert bench.scan.uptime_ds == 1


def test_a_scan_at_the_first_tick_of_all_is_followed_as_any_other():
    bench = Bench()
    bench.scan.run(0)
    bench.scan.run(500)
    assert bench.scan.uptime_ds == 6


@pytest.mark.parametrize(
    ("passed_ms", "periods"),
    [(0, 0), (1, 0), (99, 0), (100, 1), (101, 1), (199, 1), (200, 2), (1340, 13),
     (60_000, 600), (60_100, 600), (1 << 29, 600)],
)  # fmt: skip
def test_a_scan_stands_for_the_whole_periods_that_passed_and_at_most_a_minute(passed_ms, periods):
    bench = bench_at_rest()
    before = bench.scan.uptime_ds
    bench.step(passed_ms)
    assert bench.scan.uptime_ds - before == periods


def test_what_is_left_of_a_period_counts_towards_the_next():
    bench = bench_at_rest()
    before = bench.scan.uptime_ds
    for passed_ms, periods in ((150, 1), (100, 2), (149, 3), (101, 5), (99, 5), (1, 6)):
        bench.step(passed_ms)
        assert bench.scan.uptime_ds - before == periods


def test_the_ticks_wrap_within_a_late_scan_too():
    for passed_ms in (100, 300, 1340):
        bench = Bench()
        bench.now_ms = (1 << 30) - 150
        bench.run(1)
        bench.step(passed_ms)
        assert bench.scan.uptime_ds == 1 + passed_ms // 100


def test_uptime_and_the_count_of_scans_stand_still_at_the_largest_small_number():
    bench = bench_at_rest()
    bench.scan.uptime_ds = LONGEST_DS - 1
    bench.scan.scans = LONGEST_DS - 1
    bench.run(3)
    bench.step(60_000)
    assert bench.scan.uptime_ds == bench.scan.scans == (1 << 30) - 1


def test_scans_are_counted_one_by_one():
    bench = Bench()
    bench.run(7)
    bench.step(1340)
    assert bench.scan.scans == 8


# Events

def test_two_dozen_events_can_wait_with_all_columns_and_contacts():
    queue = Bench().scan.events
    queue.values[:] = range(len(queue.values))
    for code in range(25):
        queue.post(code, 0, 0)
    assert (queue.count, queue.lost) == (24, 1)
    assert list(queue.oldest()[5]) == list(range(ch.COLUMNS + len(ch.CONTACTS)))


def test_each_event_has_the_readings_of_its_own_scan():
    bench = bench_at_rest()
    seen = []
    for level_mm, contact in ((300, 0), (500, 1), (700, 0)):
        bench.set([(ch.LEVEL_MM, level_mm), (ch.C_71H_UP, contact)])
        for _ in range(20):
            bench.step()
        slot = bench.scan.events.oldest()
        seen.append((slot[5][ch.LEVEL_MM], slot[5][ch.C_71H_UP]))
        bench.drain()
    assert seen == [(300, 0), (500, 1), (700, 0)]


def test_events_of_two_scans_that_nobody_has_taken_keep_their_own_readings():
    bench = bench_at_rest()
    bench.drain()
    for level_mm, contact in ((300, 0), (500, 1)):
        bench.set([(ch.LEVEL_MM, level_mm), (ch.C_71H_UP, contact)])
        for _ in range(20):
            bench.step()
    slots = [slot for slot in bench.scan.events.slots if slot[0] in (ev.ACTED, ev.LET_GO)]
    assert [slot[5][ch.LEVEL_MM] for slot in slots] == [300, 500]
