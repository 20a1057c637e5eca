"""The journal's work fits between two scans, piece by piece."""

from tests.bench import slices


def test_no_call_of_the_journal_takes_more_than_its_share_of_a_scan():
    found = slices.worst(scans=4000)
    assert {"block, packed", "summaries, packed", "event, encoded", "means of a row",
            "tail anew", "summary to the tail"} <= set(found)  # fmt: skip
    longest = max(found.values())
    assert longest * slices.US_A_BYTECODE / 1000 <= slices.LONGEST_MS
