"""Whether the yearly proof test of a rig is overdue, as one finding of a review."""

from datetime import datetime, tzinfo

from forebay.prove.found import FAILED, SKIPPED
from forebay.prove.record import newest
from forebay.review.finding import NOTICE, Finding
from forebay.shelf import Shelf
from forebay.watch.due import PROOF_TEST_DAYS

DAY_S = 86400.0
DO = "Prove the rig: forebay prove, with somebody at the rig."


def overdue(shelf: Shelf, rig_id: int, end_s: float, zone: tzinfo | None) -> list[Finding]:
    """Return a finding if the newest proof test on the shelf is older than a year, failed or left
    steps out.

    end_s: of the review [s since 1970 UTC].  Of a rig without any on this shelf nothing is
    told: `forebay watch` says that one is due.
    """
    found = newest(shelf, rig_id)
    if found is None:
        return []
    at_s, record = found
    day = datetime.fromtimestamp(at_s, zone).strftime("%Y-%m-%d")
    if record.count(FAILED):
        return [Finding(NOTICE, f"The last proof test, on {day}, was not passed:"
                        f" {record.verdict()}.", DO)]
    if record.count(SKIPPED):
        return [Finding(NOTICE, f"The last proof test, on {day}, left steps out:"
                        f" {record.verdict()}.", DO)]
    days = (end_s - at_s) / DAY_S - PROOF_TEST_DAYS
    if days <= 0:
        return []
    return [Finding(NOTICE, f"The yearly proof test is {days:.0f} days overdue: the last was on"
                    f" {day}.", DO)]
