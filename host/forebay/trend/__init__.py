"""The same figures day by day, and what has changed: how much, and from when on.

Owns which figures are followed, the test for a change, and how both are shown.  Knows no
command; the figures of a day come from `forebay.expected` and `forebay.balance`.
"""

from forebay.trend.changes import Change
from forebay.trend.figures import FOLLOWED, Day
from forebay.trend.found import Trend, trend_of
from forebay.trend.shelved import days_of, trend_on

__all__ = ["FOLLOWED", "Change", "Day", "Trend", "days_of", "trend_of", "trend_on"]
