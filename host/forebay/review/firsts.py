"""What stands at the head of a review, as text: that it is a rehearsal, and what matters first.

Page and terminal take the same lines from here, in the same order, and the headings of what
both show in a form of their own.
"""

from forebay.review.gather import Review
from forebay.review.lacking import pump_hours

GOOD = "good night"
COMING = "the coming day"
FIRST_TRIP = "The first trip, and what to check"
NOTES = "Your notes"
LACKS = "What this rig lacks, and what is in its place"
NONE = "Nothing acted but what does so every day."
MOST_FAULTS = 6   # that are named one by one


def banner(review: Review) -> list[str]:
    """Return the sentences that say what was rehearsed; [] for a real rig."""
    found = []
    for told in review.rehearsed:
        rig = f"the packaged demo rig {told.demo}" if told.demo else "the rig as it is described"
        found.append(f"REHEARSAL: nobody measured these figures. A simulated rig, {rig}, under"
                     f" the sun of {told.sun}, {told.day}, seed {told.seed}.")
        if told.faults:
            names = [f"{name} at {review.time(utc_s)}" for utc_s, name in told.faults]
            more = len(names) - MOST_FAULTS
            named = ", ".join(names[:MOST_FAULTS]) + (f" and {more} more" if more > 0 else "")
            found.append(f"Faults brought on: {named}.")
        else:
            found.append("No fault was brought on.")
        if told.setpoint_W is not None:
            found.append(f"Lamp power asked for: {told.setpoint_W:g} W.")
        if told.assumed:
            found.append("What was assumed stands at the end.")
    return found


def firsts(review: Review) -> list[tuple[str, str, str]]:
    """Return (grade in words, what, what to do first or "") of the verdict and each finding."""
    lines = []
    if review.verdict:
        one = review.verdict.finding
        grade = GOOD if review.verdict.good else review.verdict.short
        lines.append((grade, one.what, one.do))
    if review.coming:
        lines.append((COMING, review.coming, ""))
    lines += [(one.grade, one.what, one.do) for one in review.findings]
    if not review.findings:
        lines.append(("clear", NONE, ""))
    return lines


def hours(review: Review) -> str:
    """Return for how long light and pump ran, and what the record is made of, in a sentence."""
    found = review.balance
    return (f"Light {found.light_h:.1f} h, {pump_hours(found)}, trips {found.trips},"
            f" starts of the board {found.boots}, rows {found.rows},"
            f" gaps bridged by totals {found.gaps}.")


def first_trip(review: Review) -> tuple[str, str] | None:
    """Return (when and which the first trip was, what to check), None without one."""
    one = review.first_out
    if one is None:
        return None
    return f"{review.time(one.utc_s, '%d %b %H:%M:%S')}: {one.named}.", one.look
