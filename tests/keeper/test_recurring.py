"""What recurs does not fill the journal: told a few times, then counted."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.protection import elements as el
from keeper.protection.elements import number
from tests.journal import reader
from tests.keeper.scripted import Bench
from tests.keeper.ways import NIGHT, SUN, WATER
from tests.keeper.whole import unlocked

DAY_S, HALF_PERIOD_S = 86400, 2.5   # a contact at 0.2 Hz
MOST_BYTES = 5000                   # of events, in such a day
QUICK = (("full_delay_ms", 0), ("upper_empty_delay_ms", 0), ("lower_empty_delay_ms", 0),
         ("start_wait_s", 1),
         ("light_least_off_s", 60), ("light_rest_longest_s", 1800), ("starts_per_hour", 20),
         ("starts_most_milli", 19500), ("starts_again_milli", 19000), ("pump_least_off_s", 30),
         ("longest_night_min", 1440), ("dark_s", 5))


def chattering(folder, place, inputs, seconds):
    """A whole rig, one contact of which opens and closes; two scans each half period."""
    rig = unlocked(folder, QUICK)
    rig.run(4000, inputs)
    assert not rig.locked
    before = bytes_of(rig)
    for turn in range(int(2 * seconds / HALF_PERIOD_S)):
        rig.board.inputs[place] = turn >> 1 & 1
        rig.now_ms = rig.now_ms + int(500 * HALF_PERIOD_S) & 0x3FFFFFFF
        rig.keeper.scan(rig.now_ms)
        for _ in range(12):
            rig.keeper.slack(rig.now_ms)
    return rig, bytes_of(rig) - before


def bytes_of(rig):
    """Bytes of the stream of events on flash."""
    return sum(path.stat().st_size for path in (rig.folder / "journal").iterdir()
               if path.name.startswith("e"))


def told(rig):
    return [event for path in sorted((rig.folder / "journal").iterdir())
            if path.name.startswith("e")
            for event in reader.read_file(path.name, path.read_bytes()).events]


@pytest.mark.parametrize(("place", "inputs"), [
    (ch.C_71H_UP, (SUN, WATER)), (ch.C_71L_UP, (NIGHT,)), (ch.C_71L_LO, (SUN, WATER))])
def test_a_day_of_a_chattering_contact_writes_less_than_5_kB(tmp_path, place, inputs):
    rig, written = chattering(tmp_path, place, inputs, DAY_S)
    assert 0 < written < MOST_BYTES
    assert {event[3] for event in told(rig)} >= {ev.ACTED, ev.LET_GO, ev.REPEATED}
    assert rig.keeper.events.lost == 0


def test_the_counts_add_up_to_what_happened(tmp_path):
    rig, _ = chattering(tmp_path, ch.C_71L_LO, [(ch.PANEL_MV, 10000)], 7200)
    rig.run(ev.QUIET_DS + 200, [(ch.C_71L_LO, 1)])
    of_it = [event for event in told(rig) if event[4] == number("71L-LO")]
    acted = [event for event in of_it if event[3] == ev.ACTED]
    repeated = [event for event in of_it if event[3] == ev.REPEATED]
    assert len(acted) == ev.FIRST_TOLD
    counted = sum(event[7] & ev.COUNT_MASK for event in repeated)
    assert len(acted) + counted == 7200 / HALF_PERIOD_S / 2
    assert not repeated[-1][7] & ev.NOW_BIT


# One element, scan by scan

def posted(bench, *codes):
    return [event for event in bench.events if event[0] in codes]


def open_and_close(bench, place, times, scans=20):
    for _ in range(times):
        bench.run(scans, [(place, 0)])
        bench.run(scans, [(place, 1)])
    tell(bench)


def tell(bench):
    bench.scan.protection.tell_repeats()
    bench.scan.sequence.tell_repeats()
    bench.drain()


def test_the_first_acts_are_told_each_with_its_end_and_the_next_are_not():
    bench = Bench()
    open_and_close(bench, ch.C_71L_LO, 9)
    acts = posted(bench, ev.ACTED, ev.LET_GO)
    assert [event[0] for event in acts] == [ev.ACTED, ev.LET_GO] * ev.FIRST_TOLD


def test_after_the_first_interval_the_others_are_told_as_a_count_with_its_minutes():
    bench = Bench()
    open_and_close(bench, ch.C_71L_LO, 3)
    last_ds = posted(bench, ev.ACTED)[-1][4]
    while bench.scan.uptime_ds < last_ds + ev.TOLD_AFTER_DS[0]:
        open_and_close(bench, ch.C_71L_LO, 10)
    (event,) = posted(bench, ev.REPEATED)
    packed = event[2]
    assert event[1] == number("71L-LO")
    assert packed >> ev.MINUTES_SHIFT & ev.MINUTES_MASK in (60, 61)
    assert (packed & ev.COUNT_MASK) % 10 == 0
    assert (packed & ev.COUNT_MASK) * 40 == bench.scan.uptime_ds - 3 * 40


def test_an_element_that_has_been_quiet_for_an_hour_is_told_and_is_news_again():
    bench = Bench()
    open_and_close(bench, ch.C_71L_LO, 5)
    bench.run(ev.QUIET_DS)
    tell(bench)
    (event,) = posted(bench, ev.REPEATED)
    assert event[2] & ev.COUNT_MASK == 2
    open_and_close(bench, ch.C_71L_LO, 1)
    assert len(posted(bench, ev.ACTED)) == ev.FIRST_TOLD + 1


def test_a_count_says_that_the_element_acts_and_then_its_end_is_told():
    bench = Bench()
    open_and_close(bench, ch.C_71L_LO, 4)
    bench.run(ev.QUIET_DS, [(ch.C_71L_LO, 0)])
    tell(bench)
    (event,) = posted(bench, ev.REPEATED)
    assert event[2] & ev.NOW_BIT
    bench.run(20, [(ch.C_71L_LO, 1)])
    assert posted(bench, ev.LET_GO)[-1][1] == number("71L-LO")
    assert len(posted(bench, ev.LET_GO)) == ev.FIRST_TOLD + 1


def test_no_trip_is_counted_before_more_than_the_most_retries_are_told():
    bench = Bench()
    for _ in range(30):
        bench.run(20, [(ch.C_71HH_UP, 0)])
        bench.run(20, [(ch.C_71HH_UP, 1)])
    assert len(posted(bench, ev.ACTED)) == ev.TRIPS_TOLD > 10
    assert len(posted(bench, ev.LOCKOUT)) == 1


def test_another_element_is_told_while_one_chatters():
    bench = Bench()
    open_and_close(bench, ch.C_71L_LO, 9)
    bench.run(20, [(ch.C_71H_LO, 0)])
    assert posted(bench, ev.ACTED)[-1][1] == number("71H-LO")


# Starts of a side

def stop_and_go(bench, times):
    for _ in range(times):
        for _ in range(3000):
            if bench.state == mo.RUNNING:
                break
            bench.run(1, [(ch.C_71L_UP, 1)])
        bench.run(5)
        for _ in range(200):
            if bench.state == mo.STANDSTILL:
                break
            bench.run(1, [(ch.C_71L_UP, 0)])


@pytest.fixture
def dark():
    bench = Bench()
    bench.run(300, [NIGHT])
    stop_and_go(bench, 3)
    return bench


def states(bench):
    return [event[3] for event in posted(bench, ev.STATE)]


def test_stopped_starts_are_told_whole_until_they_are_too_many(dark):
    before = states(dark)
    assert before[-3:] == [mo.RUNNING, mo.CLOSING, mo.STANDSTILL]
    stop_and_go(dark, 4)
    assert states(dark) == before


def test_a_start_that_lasts_is_told_and_so_is_its_end(dark):
    stop_and_go(dark, 2)
    dark.run(3000, [(ch.C_71L_UP, 1)])
    assert dark.state == mo.RUNNING
    tell(dark)
    (event,) = posted(dark, ev.RESTARTED)
    assert event[1] == el.TURBINE
    assert event[2] & ev.COUNT_MASK == 3
    assert event[3] == mo.RUNNING
    assert event[2] & ev.NOW_BIT
    dark.run(100, [(ch.C_71L_UP, 0)])
    assert states(dark)[-2:] == [mo.CLOSING, mo.STANDSTILL]


def test_a_trip_is_told_though_the_starts_are_not(dark):
    stop_and_go(dark, 1)
    dark.run(1200, [(ch.C_71L_UP, 1)])
    assert dark.state == mo.RUNNING
    dark.run(50, [(ch.GENERATOR_MV, 14000)])
    assert posted(dark, ev.STATE)[-1][2] == mo.TRIPPED
    assert posted(dark, ev.ACTED)[-1][1] == number("59-GEN")


def test_runs_that_no_stop_ends_are_all_told():
    bench = Bench()
    for _ in range(6):
        bench.run(300, [NIGHT])
        bench.run(300, [(ch.PANEL_MV, 10000)])
    assert states(bench).count(mo.RUNNING) == 6


def test_each_rest_after_the_first_is_told(dark):
    held = [event for event in posted(dark, ev.HELD_OFF) if event[1] == el.TURBINE]
    assert [event[2] for event in held] == [6, 12]   # of a least rest of 3 s


# Any life of one topic

@given(some.lists(some.tuples(some.integers(1, 50000), some.booleans()), max_size=60))
def test_told_and_counted_are_all_that_occurred_and_nothing_waits_too_long(life):
    events = ev.EventQueue(500, [0], 1)
    repeats = ev.Repeats(events, 1)
    occurred = told = 0
    for passed_ds, occurs in life:
        for _ in range(0, passed_ds, ev.LOOK_DS):
            events.begin_scan(0, min(events.uptime_ds + ev.LOOK_DS, (1 << 30) - 1))
            repeats.due(ev.REPEATED, 1, [occurs])
        if occurs:
            occurred += 1
            told += repeats.occur(0, ev.FIRST_TOLD)
    counted = sum(slot[2] & ev.COUNT_MASK for slot in events.slots if slot[0] == ev.REPEATED)
    assert told + counted + repeats.count[0] == occurred
    if repeats.count[0]:
        assert events.uptime_ds - repeats.newest_ds[0] <= ev.QUIET_DS + ev.LOOK_DS
        assert repeats.waiting
    assert min(told, occurred) >= min(ev.FIRST_TOLD, occurred)
