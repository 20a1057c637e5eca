"""How well a board's times are known, and until when: in words, for a person.

A board has no clock of its own.  Each contact with a laptop ties its count to
UTC; from then on the tie loosens by what a crystal may drift, and a start that
follows a cut with no laptop near is tied by nothing but its neighbours.
"""

from datetime import tzinfo

import numpy as np

from forebay.shelf.anchors import DRIFT_FRAC, Anchor
from forebay.shelf.clock import DS_PER_S, Clock
from forebay.shelf.local import bound_text, iso_local

# A time that may be off by more is told with its bound (a guess: what a person notices).
TELLING_BOUND_S = 60.0
DAY_S = 86400.0


def known_until_s(anchor: Anchor) -> float:
    """Return until when [s since 1970 UTC] a contact ties times to within TELLING_BOUND_S."""
    return anchor.utc_s + max(TELLING_BOUND_S - anchor.bound_s, 0.0) / DRIFT_FRAC


def contacts_said(clock: Clock, zone: tzinfo) -> list[str]:
    """Return sentences on the last contact of each board: how good its times are, till when."""
    newest: dict[str, Anchor] = {}
    for one in clock.anchors:
        board = clock.boards.get(one.generation, "")
        if board not in newest or one.utc_s > newest[board].utc_s:
            newest[board] = one
    if not newest:
        return ["No pull has tied the board's times to a clock: they are not known."]
    return [f"Times{_of(board, newest)} were tied to a laptop's clock last on"
            f" {iso_local(one.utc_s, zone)}, {bound_text(one.bound_s)}; from there on they loosen"
            f" by {DRIFT_FRAC * DAY_S:.1f} s a day. Within a minute until"
            f" {iso_local(known_until_s(one), zone, '%d %b %Y')}, if no cut comes before: a start"
            " without a laptop near is known only to lie between its neighbours, till the next"
            " pull."
            for board, one in sorted(newest.items())]


def _of(board, newest):
    return f" of board {board}" if len(newest) > 1 else ""


def cuts_said(clock: Clock, keys=None) -> list[str]:
    """Return a sentence on the starts that no pull met, if there are any.

    keys: (generation, boot) of the starts that count, None = all that are known.
    """
    lasts = clock.lasts()
    keys = sorted(lasts if keys is None else keys)
    unmet = [key for key in keys if not clock.is_anchored(*key)]
    if not unmet or not clock.anchors:
        return []
    generation, boot = (np.array(part) for part in zip(*unmet, strict=True))
    ends_ds = np.array([lasts.get(key, 0.0) for key in unmet]) * DS_PER_S
    bound_s = max(float(clock.times(generation, boot, at).bound_s.max())
                  for at in (np.zeros(len(unmet)), ends_ds))
    return [f"No pull met {len(unmet)} of {len(keys)} starts of the board: each is placed"
            f" between its neighbours, for it was cut off with no laptop near; its times are"
            f" {bound_text(bound_s)}."]
