"""A journal in ordinary life: rows, events, totals, summaries, rotation, retention, boots."""

import pytest

from keeper.channels import COLUMNS, FLOW_UP, INVALID, LEVEL_MM, PANEL_MV
from keeper.events import ACTED, BOOT, JOURNAL_LOST, STATE
from keeper.journal.segments import entry, number_of
from keeper.modes import STANDSTILL
from tests.journal import reader

MB = 1 << 20
EVENT_CODE, EVENT_ARGUMENT, EVENT_ARGUMENT2 = 3, 4, 7
MEANS_AT = 5  # of a decoded row


def test_a_row_holds_the_means_of_its_scans(start, folder):
    keeper = start()
    keeper.run(600)
    rows = reader.read_folder(folder).rows
    assert sorted(rows) == [1, 2, 3, 4, 5, 6]
    level = [values[LEVEL_MM] for values in keeper.seen[100:200]]
    assert abs(rows[2][MEANS_AT + LEVEL_MM] - sum(level) / 100) <= 0.5
    assert rows[2][:MEANS_AT] == (1, 200, 100, 2, 1)


def test_rows_are_on_flash_one_interval_after_they_began(start, folder):
    keeper = start(sync_s=20)
    for _ in range(1500):
        keeper.run(1)
        on_flash = max(reader.read_folder(folder).rows, default=0)
        assert keeper.uptime_ds - 100 * on_flash <= 200


def test_at_standstill_rows_are_longer(start, folder):
    keeper = start()
    keeper.state = STANDSTILL
    keeper.run(1200)
    assert [row[2] for row in reader.read_folder(folder).rows.values()] == [600, 600]


def test_a_change_of_state_ends_the_row_and_keeps_its_state(start, folder):
    keeper = start()
    keeper.run(133)
    keeper.state = STANDSTILL
    keeper.run(601)
    rows = reader.read_folder(folder).rows
    assert [(row[2], row[3]) for row in rows.values()][:3] == [(100, 2), (34, 2), (466, 0)]


def test_late_scans_end_a_row_by_the_clock_and_are_not_counted_twice(start, folder):
    keeper = start()
    for _ in range(100):
        keeper.uptime_ds += 11  # each scan stands for 1.2 s
        keeper.run(1)
    rows = list(reader.read_folder(folder).rows.values())
    assert rows
    assert sum(row[2] for row in rows) * 12 == rows[-1][1]


def test_no_row_is_cut_short_while_its_sync_waits(start, folder):
    keeper = start()
    for _ in range(30):
        keeper.run(590)
        for argument in range(5):
            keeper.post(STATE, argument, 0)
        keeper.run(10)
    assert {row[2] for row in reader.read_folder(folder).rows.values()} == {100}


def test_events_are_on_flash_at_once_in_order_and_before_rows(start, folder):
    keeper = start()
    keeper.run(590)
    for argument in range(4):
        keeper.post(ACTED, argument, -argument)
    keeper.run(2)
    content = reader.read_folder(folder)
    assert [event[EVENT_CODE] for event in content.events] == [BOOT] + [ACTED] * 4
    assert [event[EVENT_ARGUMENT2] for event in content.events[1:]] == [0, -1, -2, -3]
    assert not content.rows
    keeper.run(8)
    assert len(reader.read_folder(folder).rows) == 6


def test_an_event_keeps_the_values_contacts_and_totals_of_its_scan(start, folder):
    keeper = start()
    keeper.run(50)
    keeper.scan()
    keeper.values[PANEL_MV] = 23456
    keeper.values[FLOW_UP] = INVALID
    keeper.post(ACTED, 3, 2)
    keeper.slack()
    event = reader.read_folder(folder).events[-1]
    assert event[:8] == (2, 1, 51, ACTED, 3, 2, 1, 2)
    assert event[8 + PANEL_MV] == 2346
    assert event[8 + FLOW_UP] == -32768
    assert list(event[22::2]) == keeper.totals.low
    assert list(event[23::2]) == keeper.totals.high


def test_the_boot_event_says_which_settings_and_that_nothing_was_measured(start, folder):
    start()
    [event] = reader.read_folder(folder).events
    assert event[:3] == (1, 1, 0)
    assert event[EVENT_CODE] == BOOT
    assert event[EVENT_ARGUMENT2] == 7
    assert event[8:22] == (-32768,) * COLUMNS


def test_totals_in_the_tail_are_those_at_the_end_of_the_row_that_they_name(start, folder):
    keeper = start()
    ends = {}
    for _ in range(1000):
        keeper.run(1)
        ends[keeper.uptime_ds] = list(keeper.totals.low)
    content = reader.read_folder(folder)
    assert content.totals
    for seq, _, uptime_ds, *limbs in content.totals:
        assert content.rows[seq][1] == uptime_ds
        assert limbs[::2] == ends[uptime_ds]


def test_each_start_counts_on_and_restores_the_totals_of_the_last_record(start, folder):
    low = [0] * 10
    for boot in range(1, 5):
        keeper = start(seed=boot)
        assert keeper.journal.boot == boot
        assert keeper.journal.restored_low == low
        keeper.run(700)
        content = reader.read_folder(folder)
        low = list(content.totals[-1][3::2])
        assert content.totals[-1][2] == 600
    content = reader.read_folder(folder)
    assert [event[1] for event in content.events] == [1, 2, 3, 4]
    assert sorted(content.rows) == list(range(1, 25))
    assert content.damaged == 0


def test_an_event_brings_the_totals_back_to_its_instant(start):
    keeper = start()
    keeper.run(333)
    keeper.post(STATE, 2, 1)
    keeper.scan()
    keeper.slack()
    assert start().journal.restored_low == keeper.totals.low


def test_blocks_replace_the_tail(start, folder):
    keeper = start(running_s=1)
    keeper.run(10_000)
    content = reader.read_folder(folder)
    assert sorted(content.rows) == list(range(1, max(content.rows) + 1))
    assert len(content.blocked) == 1000 // 64 * 64
    assert not content.blocked & content.tail
    assert len([segment for segment in content.segments if segment.stream == 3]) == 1


def test_summaries_hold_the_extremes_and_the_mean_of_each_quarter_hour(start, folder):
    keeper = start()
    keeper.run(18_700)
    content = reader.read_folder(folder)
    assert [(s[0], s[2], s[3]) for s in content.summaries] == [(1, 9000, 900), (2, 18000, 900)]
    for place, summary in enumerate(content.summaries):
        rows = [content.rows[seq] for seq in range(90 * place + 1, 90 * place + 91)]
        for column in range(COLUMNS):
            means = [row[MEANS_AT + column] for row in rows]
            least, mean, greatest = summary[4 + 3 * column : 7 + 3 * column]
            assert (least, greatest) == (min(means), max(means))
            assert abs(mean - sum(means) / 90) <= 0.5


def test_no_segment_outgrows_a_modbus_file_and_none_is_rewritten(start, folder):
    keeper = start(running_s=1)
    before = {}
    for _ in range(60):
        keeper.run(1000)
        files = reader.folder_files(folder)
        assert all(len(data) <= 20_000 for data in files.values())
        for name, data in before.items():
            assert name[0] == "t" or files[name].startswith(data)
        before = files
        listed = dict(keeper.journal.files())
        assert sorted(listed.values()) == sorted(len(data) for data in files.values())
    assert len([name for name in before if name[0] == "d"]) >= 3


def test_the_oldest_detail_goes_first_and_the_loss_is_an_event(start, folder):
    keeper = start(running_s=1, budget_bytes=70_000)
    keeper.run(80_000)
    files = reader.folder_files(folder)
    assert sum(-(-len(data) // 4096) * 4096 for data in files.values()) <= 70_000
    content = reader.read_folder(folder)
    lost = [e[EVENT_ARGUMENT2] for e in content.events if e[EVENT_CODE] == JOURNAL_LOST]
    assert lost == list(range(1, len(lost) + 1))
    assert len(lost) == keeper.journal.lost >= 2
    assert [e[EVENT_ARGUMENT] for e in content.events if e[EVENT_CODE] == JOURNAL_LOST] == (
        [0] * len(lost))  # fmt: skip
    assert min(content.rows) > 1
    assert len(content.summaries) == 8
    assert sorted(content.rows) == list(range(min(content.rows), max(content.rows) + 1))


def test_summaries_go_before_events(start, folder):
    keeper = start(running_s=1, budget_bytes=20_000)
    for stream in (2, 1):
        keeper.journal.segments.append_new(stream, b"", 0)
    keeper.run(3000)
    names = [name for name in reader.folder_files(folder) if name[0] in "se"]
    assert sorted(names) == ["e00002", "s00001"]


def test_segment_numbers_begin_anew_after_the_last(start, folder):
    keeper = start(running_s=1)
    keeper.journal.segments.table[3].append(entry(16382, 0))
    keeper.run(640 * 3 + 60)
    files = reader.folder_files(folder)
    assert [name for name in files if name[0] == "t"] == ["t00003"]
    (folder / "t16383").write_bytes(b"")  # as a cut in the hand-over leaves it
    again = start(running_s=1)
    assert [number_of(one) for one in again.journal.segments.table[3]] == [16383, 3]
    again.run(600)
    assert len(reader.folder_files(folder)["t00003"]) > len(files["t00003"])


def test_a_gap_in_the_tail_never_enters_a_block(start, folder):
    keeper = start()
    keeper.run(1200)
    name = "t00001"
    data = bytearray((folder / name).read_bytes())
    data[16 + 2 * 52 + 20] ^= 1  # row 3
    (folder / name).write_bytes(data)
    again = start(running_s=1)
    again.run(1200)
    content = reader.read_folder(folder)
    assert sorted(content.rows) == [1, 2, *range(4, max(content.rows) + 1)]
    assert {1, 2, 4, 12, 13} < content.blocked  # not the same block, by their numbers
    assert not content.conflicts


@pytest.mark.parametrize("bad", ["t00001", "d00001", "e00001", "s00001"])
def test_a_segment_with_a_damaged_head_is_not_written_to_and_is_told(start, folder, bad):
    keeper = start()
    keeper.run({"t": 6200, "s": 72_500}.get(bad[0], 9100))
    before = reader.read_folder(folder)
    name = max(n for n in reader.folder_files(folder) if n[0] == bad[0])
    data = bytearray((folder / name).read_bytes())
    data[9] ^= 0x40
    (folder / name).write_bytes(data)
    again = start()
    again.run(700)
    after = reader.read_folder(folder)
    assert not after.conflicts
    assert again.journal.lost == 1
    told = [event for event in after.events if event[EVENT_CODE] == JOURNAL_LOST]
    assert [(event[EVENT_ARGUMENT], event[EVENT_ARGUMENT2]) for event in told] == [
        ("dest".index(name[0]), int(name[1:]))]  # fmt: skip
    if name[0] == "t":
        assert after.rows.items() >= before.rows.items()  # its records were sound
    else:
        assert (folder / name).read_bytes() == data


def test_other_files_in_the_folder_are_left_alone(start, folder):
    folder.mkdir()
    for name in ("notes", "d1", "x00001", "d00000", "dabcde", "t99999"):
        (folder / name).write_bytes(b"mine")
    keeper = start()
    keeper.run(700)
    assert (folder / "notes").read_bytes() == b"mine"
    assert [number for number, _ in keeper.journal.files()] == [16385, 49153]


def test_an_unusable_folder_stops_neither_start_nor_scans(start, folder):
    folder.write_bytes(b"a file is in the way")
    keeper = start()
    keeper.run(20_000)
    assert keeper.journal.boot == 1
    assert keeper.journal.lost > 0
    assert keeper.journal.files() == []
    assert keeper.journal.newest_row == 200
