"""A quarter hour's least, mean and greatest, against exact fractions."""

import math
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as some

from keeper.channels import COLUMNS
from keeper.journal.rows import NOT_TRUSTED
from keeper.journal.summary import Quarter

START = 6  # where a row's means begin
MEANS = some.lists(some.one_of(some.integers(-32767, 32767), some.just(NOT_TRUSTED)),
                   min_size=COLUMNS, max_size=COLUMNS)
ROWS = some.lists(some.tuples(MEANS, some.integers(1, 6000)), max_size=6)


def marks_of(rows):
    """Returns [least, mean, greatest] of each column, one after the other."""
    marks = []
    for column in range(COLUMNS):
        held = [(means[column], scans) for means, scans in rows if means[column] != NOT_TRUSTED]
        if not held:
            marks += [NOT_TRUSTED] * 3
            continue
        mean = Fraction(sum(value * scans for value, scans in held), sum(s for _, s in held))
        values = [value for value, _ in held]
        marks += [min(values), math.floor(mean + Fraction(1, 2)), max(values)]
    return marks


@given(some.lists(ROWS, min_size=1, max_size=3))
def test_each_quarter_hour_holds_the_marks_of_its_own_rows_weighted_by_their_scans(quarters):
    quarter = Quarter()
    for rows in quarters:
        for means, scans in rows:
            quarter.add([0] * START + means, START, scans)
        seconds, marks = quarter.close()
        assert seconds == sum(scans for _, scans in rows) // 10
        assert list(marks) == marks_of(rows)


def test_the_seconds_that_it_covers_stop_at_the_end_of_their_field():
    quarter = Quarter()
    quarter.add([0] * (START + COLUMNS), START, 655359)
    assert quarter.close()[0] == 65535
    quarter.add([0] * (START + COLUMNS), START, 655360)
    assert quarter.close()[0] == 65535
