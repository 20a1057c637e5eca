"""What stands beside a review: what the day should have given, and how the days before went.

Both are worked out by rooms of their own; what they find amiss is among what matters first.
A day that cannot be judged says why.
"""

import textwrap
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from html import escape

import numpy as np

from forebay.described import Descriptions
from forebay.errors import InputError
from forebay.paper import section
from forebay.review.daylight import WENT_DARK
from forebay.review.due import overdue
from forebay.review.finding import HAPPENED, LOOK, NOTICE, SHORT_S, Finding
from forebay.review.gather import Review
from forebay.review.sections import Section
from forebay.shelf import Shelf

DAY_S = 86400.0
TREND_DAYS = 28          # up to the end of the review: `forebay trend` follows a year
EVERY_MIN = 5            # of the sun that was available
ONE_DAY = "One day alone shows no trend: `forebay trend` follows as many as the shelf holds."
ALLOWED = ("This judges only what sun, water and running time were left to the rig, beside what"
           " stands at the head of the page: \"as expected\" does not mean that all was well.")
FOLLOWS = "See first what is told above: it may follow from that."
WIDTH = 80
LOOK_DO = "See the section on it below, and what it looks like."


def _nobody(done: float, total: float) -> None:
    """Tell nobody."""


def with_judgement(review: Review, shelf: Shelf, rigs: Descriptions,
                   progress: Callable[[float, float], None] = _nobody) -> Review:
    """Return a review with what was to be expected, the trend, and what they find amiss.

    rigs: the descriptions of its rig; progress: called with (days done, all).
    """
    begin_s, end_s = review.balance.begin_utc_s, review.balance.end_utc_s
    if begin_s is None or end_s is None:
        return review
    found = _expected(review, shelf, rigs) if end_s - begin_s <= SHORT_S else review
    found = _trend(found, shelf, rigs, end_s, progress)
    due = overdue(shelf, rigs.rig_id, end_s, found.zone)
    found = replace(found, findings=[*found.findings, *due])
    return replace(found, findings=sorted(found.findings, key=lambda one: one.gravity))


def _expected(review, shelf, rigs):
    from forebay.expected import text
    from forebay.expected.judging import WORSE
    from forebay.expected.shelved import Wish, judged_on

    day = review.time(review.balance.begin_utc_s, "%Y-%m-%d")
    try:
        judged = judged_on(shelf, rigs, Wish(day, before=0), review.zone)
    except InputError as error:
        return replace(review, expected=_said("Expected and actual", f"Not judged: {error}"))
    is_held = any(one.gravity <= HAPPENED for one in review.findings)
    worse = []
    if judged.verdict == WORSE:
        # What is locked out or held off explains it: then it is no news.
        gravity, do = (NOTICE, FOLLOWS) if is_held else (LOOK, " ".join(judged.causes) or LOOK_DO)
        worse = [Finding(gravity, text.lead(judged, review.zone), do, judged.since_s)]
    lines = text.lines(judged, review.zone, is_held)
    html = text.html(judged, review.zone, is_held)
    if is_held:
        lines[1:1] = textwrap.wrap(ALLOWED, WIDTH, initial_indent="  ", subsequent_indent="  ")
        html = html.replace("</h2>", f"</h2>\n<p>{escape(ALLOWED)}</p>", 1)
    return replace(review, findings=[*review.findings, *worse],
                   available=_available(review, judged, rigs), expected=Section(lines, html))


def _said(heading, line):
    lines = textwrap.wrap(line, WIDTH, initial_indent="  ", subsequent_indent="  ")
    return Section([heading, *lines], section(heading, f"<p>{escape(line)}</p>"))


def _available(review, judged, rigs):
    """Return (times [s since 1970 UTC], what the panel could have given [W]), None = not known."""
    from forebay.expected.panelsun import Curve
    from keeper.physics.panel import max_power_point

    found = judged.conditions
    if found.sun is None:
        return None
    panel = Curve(rigs.rig_of((found.begin_s, found.end_s)).plant()).panel
    minutes = np.arange(0, found.minutes, EVERY_MIN)
    dark_s = min((one.utc_s for one in review.findings
                  if one.utc_s is not None and one.what.startswith(WENT_DARK)), default=np.inf)
    watts = []
    for minute in minutes.tolist():
        panel.shine(float(found.sun.poa_W_m2[minute]), float(found.sun.cell_degC[minute]))
        point = (0.0, 0.0, 0.0) if panel.light <= 0 else max_power_point(
            panel.light, panel.dark, panel.ideal, panel.series, panel.shunt)
        watts.append(point[2])
    at_s = found.begin_s + minutes * 60.0
    # What the panel no longer shows nobody knows.
    return at_s, np.where(at_s < dark_s, watts, np.nan)


def _trend(review, shelf, rigs, end_s, progress):
    from forebay.trend import page, text, trend_on

    try:
        found = trend_on(shelf, rigs, (end_s - TREND_DAYS * DAY_S, end_s),
                         progress=progress)
    except InputError as error:
        return replace(review, trend=_said("Trend", f"Not followed: {error}"))
    if found.days < 2:
        return replace(review, trend=_said("Trend", ONE_DAY))
    amiss = [Finding(LOOK, text.finding_said(one), LOOK_DO,
                     datetime(one.first.year, one.first.month, one.first.day,
                              tzinfo=UTC).timestamp())
             for one in found.findings if one.is_open and one.is_worse]
    return replace(review, findings=[*review.findings, *amiss],
                   trend=Section(["Trend", *text.lines(found)], page.html(found)))
