"""The mean of an interval, against exact fractions."""

import math
import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as some

from keeper.channels import (
    CHANNELS,
    COLUMNS,
    FLOW_UP,
    INVALID,
    MOTOR_MDEGC,
    PANEL_MV,
)
from keeper.rows import NOT_TRUSTED, STORED_MOST, Rows, stored, stored_values

SMALL_INT_MOST = (1 << 30) - 1


def close(rows: Rows) -> list[int]:
    out = [0] * COLUMNS
    rows.freeze()
    rows.means(out, 0)
    return out


def nearest(mean: Fraction, index: int) -> int:
    """Mean in steps of the channel, to nearest, a half upwards: the specification's section 4."""
    step = Fraction(CHANNELS[index][5], CHANNELS[index][6])
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
    assert stored_flow(INVALID) == NOT_TRUSTED


@given(some.integers(-(1 << 23), 1 << 23), some.integers(0, COLUMNS - 1))
def test_one_value_is_stored_as_the_mean_of_one(value, index):
    assert stored_values([value] * COLUMNS)[index] == stored(value, 1, index)
