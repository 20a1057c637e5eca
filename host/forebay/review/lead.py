"""What matters first: the verdict on the night, then what is wrong, the gravest first.

Page and terminal print this list, in this order, before any figure.
"""

from forebay.review.causes import OF_LEAK, OF_VALVE, causes
from forebay.review.daylight import dark_by_day
from forebay.review.doubts import doubts
from forebay.review.finding import Finding, Record
from forebay.review.held import belied, held
from forebay.review.night import night
from forebay.review.verdict import Night

FAR_S = float("inf")


def lead(record: Record) -> tuple[Night, list[Finding]]:
    """Return the verdict on a time, and its findings: the gravest first, then by time."""
    dark = dark_by_day(record)
    first = list(causes(record))
    folded = frozenset().union(*(one.folds for one in first))
    # A motor that drives a stuck valve takes what no position tells.
    is_explained = bool(folded & (OF_LEAK | OF_VALVE) or belied(record))
    found = [*first, *held(record, folded), *dark, *doubts(record, is_explained)]

    def rank(one):
        return one.gravity, FAR_S if one.utc_s is None else one.utc_s

    found.sort(key=rank)
    return night(record, found), found
