"""The mean of an interval, against exact fractions."""

import math
import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper.channels import (
    CH_STEP_DEN,
    CH_STEP_NUM,
    CHANNELS,
    COLUMNS,
    FLOW_UP,
    INVALID,
    MOTOR_MDEGC,
    PANEL_MV,
    TOTALS,
)
from keeper.journal.rows import NOT_TRUSTED, STORED_MOST, FrozenTotals, Rows, stored, stored_values
from keeper.totals import TotalsBank

SMALL_INT_MOST = (1 << 30) - 1


def close(rows: Rows) -> list[int]:
    out = [0] * COLUMNS
    rows.freeze()
    rows.means(out, 0)
    return out


def nearest(mean: Fraction, index: int) -> int:
    """Mean in steps of the channel, to nearest, a half upwards: the specification's section 4."""
    step = Fraction(CHANNELS[index][CH_STEP_NUM], CHANNELS[index][CH_STEP_DEN])
    return math.floor(mean / step + Fraction(1, 2))


def fill(rows: Rows, column: int, numbers: list[int]) -> None:
    for number in numbers:
        values = [0] * COLUMNS
        values[column] = number
        rows.add(values)


@given(
    some.integers(0, COLUMNS - 1),
    some.lists(some.integers(-40000, 125000), min_size=1, max_size=700),
)
def test_a_stored_mean_is_the_exact_mean_to_the_nearest_step(column, numbers):
    rows = Rows()
    fill(rows, column, numbers)
    expected = nearest(Fraction(sum(numbers), len(numbers)), column)
    if not -STORED_MOST <= expected <= STORED_MOST:
        expected = NOT_TRUSTED
    assert close(rows)[column] == expected
    assert rows.scans == 0


@pytest.mark.parametrize("value", [60000, 1_000_000, 5_400_000, -(1 << 23), (1 << 23) - 1])
def test_no_sum_leaves_the_small_ints_of_the_board(value):
    rows = Rows()
    values = [value] * COLUMNS
    for _ in range(6000):  # the longest row that the settings allow, 600 s
        rows.add(values)
        assert all(abs(number) <= SMALL_INT_MOST for number in rows.sums + rows.folded)
    assert rows.folded[PANEL_MV] * 1024 + rows.sums[PANEL_MV] == 6000 * value


def test_readings_that_cannot_be_trusted_do_not_shift_the_mean():
    rows = Rows()
    fill(rows, PANEL_MV, [20000, INVALID, 30000])
    assert close(rows)[PANEL_MV] == 2500  # 25 V in steps of 10 mV


@pytest.mark.parametrize(("bad", "good", "trusted"), [(5, 5, True), (6, 5, False), (3, 0, False)])
def test_a_mean_of_less_than_half_its_scans_is_not_trusted(bad, good, trusted):
    rows = Rows()
    fill(rows, FLOW_UP, [INVALID] * bad + [55000] * good)
    assert close(rows)[FLOW_UP] == (550 if trusted else NOT_TRUSTED)


@given(some.lists(some.lists(some.integers(-40000, 125000), min_size=COLUMNS, max_size=COLUMNS),
                  min_size=1, max_size=5))
def test_every_column_of_a_scan_whose_readings_are_all_trusted_counts_in_its_own_mean(scans):
    rows = Rows()
    for values in scans:
        rows.add([*values, 7, 8, 9], 0)
    columns = zip(*scans, strict=True)
    means = [nearest(Fraction(sum(column), len(scans)), index)
             for index, column in enumerate(columns)]
    assert close(rows) == [mean if abs(mean) <= STORED_MOST else NOT_TRUSTED for mean in means]


def test_scans_of_either_kind_are_gathered_alike_through_every_fold():
    chance = random.Random(8)
    quick, slow = Rows(), Rows()
    sums = [0] * COLUMNS
    for _ in range(1000):
        values = [chance.randint(-(1 << 13), 1 << 14) for _ in range(COLUMNS)]
        quick.add(values, 0)
        slow.add(values, 1)
        sums = [amount + value for amount, value in zip(sums, values, strict=True)]
        assert (quick.sums, quick.folded) == (slow.sums, slow.folded)
    assert quick.scans == slow.scans == 1000
    assert quick.bad == [0] * COLUMNS
    means = [nearest(Fraction(amount, 1000), index) for index, amount in enumerate(sums)]
    assert close(quick) == [mean if abs(mean) <= STORED_MOST else NOT_TRUSTED for mean in means]


def test_a_row_knows_how_many_scans_it_had_and_the_next_begins_at_none():
    rows = Rows()
    fill(rows, PANEL_MV, [20000] * 7)
    rows.freeze()
    fill(rows, PANEL_MV, [30000] * 2)
    assert (rows.frozen_scans, rows.scans) == (7, 2)


def test_means_are_put_where_they_are_wanted_a_few_columns_at_a_time():
    rows = Rows()
    for index in range(COLUMNS):
        fill(rows, index, [1000 * (index + 1) * COLUMNS])
    rows.freeze()
    row = [None] * (COLUMNS + 3)
    for first in range(0, COLUMNS, 4):
        rows.means(row, 2, first, min(first + 4, COLUMNS))
    # Each scan fed one column and gave the others 0.
    assert row[2:COLUMNS + 2] == [nearest(Fraction(1000 * (index + 1)), index)
                                  for index in range(COLUMNS)]
    assert row[:2] == [None] * 2
    assert row[COLUMNS + 2:] == [None]


def test_totals_are_kept_as_they_were_at_the_end_of_a_row():
    bank = TotalsBank(1000000, 1000000, 10)
    bank.restore(list(range(1, len(TOTALS) + 1)), list(range(101, len(TOTALS) + 101)))
    frozen = FrozenTotals()
    frozen.take(bank, 4711)
    assert frozen.low == list(range(1, len(TOTALS) + 1))
    assert frozen.high == list(range(101, len(TOTALS) + 101))
    assert frozen.uptime_ds == 4711
    bank.restore([0] * len(TOTALS), [0] * len(TOTALS))
    assert frozen.low[0] == 1


def test_an_empty_row_is_not_trusted():
    assert close(Rows()) == [NOT_TRUSTED] * COLUMNS


def test_a_closed_row_leaves_nothing_behind_for_the_next():
    chance = random.Random(3)
    rows = Rows()
    fill(rows, MOTOR_MDEGC, [chance.randint(0, 100000) for _ in range(333)] + [INVALID] * 5)
    close(rows)
    fill(rows, MOTOR_MDEGC, [25000])
    assert close(rows)[MOTOR_MDEGC] == 400  # 25 degC in steps of 1/16 K


def stored_flow(value: int) -> int:
    return stored_values([value] * COLUMNS)[FLOW_UP]


def test_a_value_beyond_16_bits_is_not_trusted_instead_of_wrapped():
    # 3.3e6 uL/s in steps of 100 is 33 000.
    assert stored_flow(3_300_000) == NOT_TRUSTED
    assert stored_flow(3_276_700) == 32767
    assert stored_flow(-3_276_700) == -32767
    assert stored_flow(-3_276_800) == NOT_TRUSTED == -32768
    assert stored_flow(INVALID) == NOT_TRUSTED


@pytest.mark.parametrize(("amount", "expected"), [
    (3_276_700, 32767), (3_276_750, NOT_TRUSTED), (3_276_749, 32767), (-3_276_700, -32767),
    (-3_276_750, -32767), (-3_276_751, NOT_TRUSTED)])
def test_a_mean_is_stored_up_to_the_last_number_of_16_bits_on_either_side(amount, expected):
    """In steps of 100 uL/s; the least number of all stands for what is not trusted."""
    assert stored(3 * amount, 3, FLOW_UP) == expected


@given(some.integers(-(1 << 23), 1 << 23), some.integers(0, COLUMNS - 1))
def test_one_value_is_stored_as_the_mean_of_one(value, index):
    assert stored_values([value] * COLUMNS)[index] == stored(value, 1, index)
