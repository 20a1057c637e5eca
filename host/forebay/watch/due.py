"""What becomes due at a rig: pulling its journal, its yearly proof test."""

from datetime import date

from forebay.words.link import JOURNAL_STATES

# What a day writes, 16 h of it running: rows of 10 s and of 60 s at 7.6 bytes
# each, and an eighth more for summaries and events (sizes of docs/journal.md).
DAY_BYTES = (16 * 360 + 8 * 60) * 7.6 * 1.125
PROOF_TEST_DAYS = 365  # once a year, as hardware/commissioning.md says


def journal(live: dict[str, int]) -> str:
    """Return how long the journal still keeps everything, in words, or why there is none."""
    state = live["journal_state"]
    if state:
        return f"journal: NONE IS KEPT: {JOURNAL_STATES.get(state, f'reason {state}')}"
    if not live["journal_budget_B"]:
        return "journal: nothing is written in this mode"
    days = live["journal_free_B"] / DAY_BYTES
    if days < 1:
        return "journal: full, the oldest detail goes as new comes: pull now"
    return f"journal: about {days:.0f} days until the oldest detail goes: pull before"


def proof_test(noted: str | None, today: date) -> str:
    """Return when the yearly proof test is due; noted: day of the last [YYYY-MM-DD]."""
    try:
        last = date.fromisoformat(noted or "")
    except ValueError:
        return "proof test: none noted, so it is due (--proved notes one)"
    days = (last - today).days + PROOF_TEST_DAYS
    if days < 0:
        return f"proof test: {-days} days overdue, the last was on {last.isoformat()}"
    return f"proof test: due in {days} days, the last was on {last.isoformat()}"
