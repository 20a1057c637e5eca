"""What becomes due at a rig: a pull, the yearly proof test; and how good its times are."""

from datetime import date, tzinfo

from forebay.shelf.anchors import DRIFT_FRAC, Anchor
from forebay.shelf.certainty import known_until_s
from forebay.shelf.clock import DS_PER_S
from forebay.shelf.local import bound_text
from forebay.shelf.room import DAY_S, Holding, fits_days
from forebay.watch.words import day, span
from forebay.words.link import JOURNAL_STATES

PROOF_TEST_DAYS = 365  # once a year, as hardware/commissioning.md says


def journal(live: dict[str, int], holding: Holding | None, now_s: float) -> str:
    """Return for how long the journal keeps what is not pulled, in words, or why there is none.

    holding: what this computer's shelf knows of the board's last pull; now_s:
    time [s since 1970 UTC].
    """
    state = live["journal_state"]
    if state:
        return f"journal: NONE IS KEPT: {JOURNAL_STATES.get(state, f'reason {state}')}"
    if not live["journal_budget_B"]:
        return "journal: nothing is written in this mode"
    if holding is None or holding.fits_days is None:
        return _never_pulled(live)
    ago_days = (now_s - holding.utc_s) / DAY_S
    rate = "at its pace" if holding.is_measured else "at 16 h a day"
    left = holding.fits_days - ago_days
    then = f"pull within {left:.0f} days" if left >= 1 else "PULL NOW"
    return (f"journal: room for {holding.fits_days:.0f} days {rate}; pulled"
            f" {span(max(ago_days, 0.0) * DAY_S)} ago: {then}")


def _never_pulled(live):
    """Nothing of it is on the shelf, as far as is known: the free room counts."""
    free_B = live["journal_free_B"]
    if not free_B:
        return "journal: full, the oldest detail goes as new comes: pull now"
    days = fits_days(free_B, [])
    return (f"journal: never pulled here; full in about {days:.0f} days at 16 h a day: pull"
            " before")


def times(live: dict[str, int], anchor: Anchor | None, zone: tzinfo | None = None) -> str:
    """Return how well the board's times are known, and until when, in words.

    anchor: the last tie of its count to this computer's clock, None = there is none;
    zone: of days, None = this computer's.
    """
    if anchor is None:
        return "times: never pulled here; a pull ties the board's count to the clock"
    since_s = (live["uptime_ds"] - anchor.uptime_ds) / DS_PER_S
    if live["boot"] != anchor.boot or since_s < 0:
        return (f"times: cut off since the last pull, with no laptop near (start {anchor.boot} to"
                f" {live['boot']}): this start's are not known; a pull ties them")
    bound_s = anchor.bound_s + DRIFT_FRAC * since_s
    return (f"times: tied {span(since_s)} ago, now {bound_text(bound_s)}; within a minute until"
            f" {day(known_until_s(anchor), zone)}, or a cut")


def proof_test(noted: str | None, today: date) -> str:
    """Return when the yearly proof test is due; noted: day of the last [YYYY-MM-DD]."""
    try:
        last = date.fromisoformat(noted or "")
    except ValueError:
        return "proof test: none noted, so it is due: forebay prove (--proved notes one)"
    days = (last - today).days + PROOF_TEST_DAYS
    if days < 0:
        return f"proof test: {-days} days overdue, the last was on {last.isoformat()}"
    return f"proof test: due in {days} days, the last was on {last.isoformat()}"
