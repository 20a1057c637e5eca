"""A share of the month that `python -m tests.micropython.month` lives by hand."""

from tests.micropython import month


def test_days_across_the_wrap_of_the_ticks_leave_a_whole_journal_and_no_memory():
    days = 3.0
    month.check(month.live(days, timeout_s=300), days)
