"""From a span of a shelf to the job of a replay, and the simulation's process that does it."""

import tempfile
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from forebay.expected.conditions import Conditions, conditions_of
from forebay.rehearse.process import AUTO, Stage
from forebay.rehearse.stage import GO_ON
from forebay.replay.ordered import Ordered, ordered, planned_of
from forebay.replay.sound import refuse_unsound
from forebay.replay.timeline import DS_PER_S, MINUTE_TICKS, Timeline, timeline_of
from forebay.replay.waves import Waves
from forebay.rig import Rig
from forebay.shelf import Clock, Journal
from forebay.shelf.decode import decode
from forebay.sun import SunTrack
from keeper import channels as ch
from keeper import events as ev
from keeper import modes
from keeper import settings as st
from keeper.protection import derived as dv
from keeper.protection import elements as el
from keeper.retained import FIXED

THERMAL = el.number("49-MOT")
CALM_TICKS = 60 * DS_PER_S       # of standing before a replay begins
BRIGHT_TICKS = 900 * DS_PER_S    # of daylight behind it: the night must be seen to begin
TAUS_KNOWN = 5                   # of the motor's time constant: then its heat is known
HOT_FRAC = 0.999                 # of the heat that trips: not known is hot
MILLI = 1000.0
AT_START, AT_REST, AT_RECORD = "start", "rest", "record"


class Span(NamedTuple):
    """A recorded span, ready to be replayed.

    begin, end: ticks from which and up to which it is told; asked: (begin, end) of what was asked
    for [s since 1970 UTC]; conditions: what was not the rig's
    doing; settings: those it was recorded under; ordered: what a person ordered.
    """

    journal: Journal
    time: Timeline
    waves: Waves
    conditions: Conditions
    settings: list[int]
    begin: int
    end: int
    remembers: bool
    rig: Rig
    ordered: Ordered
    asked: tuple[float, float]

    @property
    def begins_at(self) -> str:
        """Where it begins: AT_START of the board, AT_REST by day, or AT_RECORD, with its rows."""
        if any(one.is_whole and one.first == self.begin for one in self.time.starts):
            return AT_START
        return AT_RECORD if self.begin == self.time.starts[0].first else AT_REST


class Came(NamedTuple):
    """What a keeper did under replay: its journal, of each event its tick, and the process's word.
    """

    journal: Journal
    event: np.ndarray
    told: dict[str, Any]


def span_of(journal: Journal, clock: Clock, rig: Rig, period: tuple[float, float],
            run_in_s: float, remembers: bool = True, track: SunTrack | None = None) -> Span:
    """Return a period [s since 1970 UTC] of a journal, with the run-in before it.

    remembers: the board kept over a restart what must outlive it; a rehearsed one does not.
    Raises ReplayError for rows and events that no keeper writes.
    """
    from forebay.balance.compute import within

    part = within(journal, clock, (period[0] - run_in_s, period[1]))
    time = timeline_of(part, clock)
    refuse_unsound(part, time, period[1] - period[0] + run_in_s)
    settings = rig.settings()
    waves = Waves(part, time, settings)
    begin = _begin(time, waves, settings, time.tick(period[0]))
    end = min(time.end, time.tick(period[1]))
    from_s = time.utc_s(time.begin)
    whole_min = -(-(time.utc_s(end) - from_s) // 60.0) + 1.0
    conditions = conditions_of(part, clock, rig, (from_s, from_s + 60.0 * whole_min), track)
    return Span(part, time, waves, conditions, settings, begin, end, remembers, rig,
                ordered(part, time, settings), period)


def _begin(time, waves, settings, wanted):
    """Return the tick to begin with: at a start of the board, or where the rig stood by day.

    At `wanted` or as shortly before it as there is such a place; else where the rows begin.
    """
    dark_mV = settings[st.index("dark_panel_mV")]
    ticks, values = waves.channels()[ch.PANEL_MV]
    found = time.starts[0].first
    for start in time.starts:
        if start.is_whole and start.first <= wanted:
            found = max(found, start.first)
    for run in time.runs:
        last = min(run.last - CALM_TICKS, wanted)
        if run.first > wanted or run.state != modes.STANDSTILL or last < run.first + CALM_TICKS:
            continue
        for at in range(last, run.first + CALM_TICKS, -MINUTE_TICKS):
            after = np.interp([at, at + BRIGHT_TICKS], ticks, values)
            if (after >= dark_mV).all():
                found = max(found, at)
                break
    return found


def record_of(span: Span) -> dict[str, Any]:
    """Return the record as plain data, for `forebay.replay.engine.following`."""
    waves, time = span.waves, span.time
    row_s = [span.settings[st.index("row_standstill_s" if state == modes.STANDSTILL
                                    else "row_running_s")] for state in range(len(modes.STATES))]
    return {"row_ticks": [one * DS_PER_S for one in row_s],
            "channels": waves.channels(), "bad": waves.bad(), "contacts": waves.contacts(),
            "loop": waves.loop(), "still": waves.still(), "valve_off": waves.valve_off(),
            "runs": [tuple(run) for run in time.runs],
            "starts": [(one.first, one.last) for one in time.starts],
            "whole": [one.is_whole for one in time.starts],
            "planned": planned_of(span.journal, time),
            "locked": locked_of(span.journal, time), "acting": _holding(waves.spells)}


def _holding(spells):
    """Return (number, [(from, to)]) of each element that can hold a side off."""
    return [(number, [(one.acted, one.let_go) for one in spells if one.number == number])
            for number in range(1, el.ROWS + 1) if el.judged(number - 1, el.J_ACTION) >= el.STOP]


def locked_of(journal: Journal, time: Timeline) -> list[list[int]]:
    """Return [ticks, 0 or 1]: when the record was locked out, in steps."""
    ticks, values = [time.begin], [0]
    table = journal.events
    for place in np.flatnonzero((time.event >= 0) & np.isin(table["code"], (ev.LOCKOUT,
                                                                            ev.LOCKOUT_RESET))):
        now = int(table["code"][place] == ev.LOCKOUT)
        if not now and values[-1] == 0 and len(ticks) == 1:
            values[0] = 1        # what is reset first was locked out before
        ticks.append(int(time.event[place]))
        values.append(now)
    return [ticks, values]


def job_of(span: Span, settings: Sequence[int], **changed: Any) -> dict[str, Any]:
    """Return a replay's job as plain data, but for where its board's files lie."""
    conditions, time = span.conditions, span.time
    values = span.rig.plant()
    sun = conditions.sun
    sun_tick = time.tick(conditions.begin_s)
    upper_m3 = values["upper.start_volume_m3"] if conditions.upper_m3 is None \
        else conditions.upper_m3.value
    wishes = [(sun_tick + round(one.begin_s * DS_PER_S), sun_tick + round(one.end_s * DS_PER_S),
               round(one.power_W * MILLI)) for one in conditions.wishes]
    return {"record": record_of(span), "rig": values, "settings": list(settings), "seed": 1,
            "sun": None if sun is None else [
                [float(rows[0]), *map(float, rows), float(rows[-1])]
                for rows in (sun.poa_W_m2, sun.cell_degC, sun.air_degC)],
            "sun_tick": sun_tick + MINUTE_TICKS // 2 - MINUTE_TICKS, "both_m3":
                values["lower.start_volume_m3"] + values["upper.start_volume_m3"],
            "upper_m3": upper_m3, "wishes": wishes,
            "deeds": span.ordered.after(changed.get("from_tick", span.begin)).deeds,
            "setpoints": None, "finds_wishes": True, "loose": True, "unsure": [],
            "remembers": span.remembers,
            "from_tick": span.begin, "to_tick": span.end, "retained": None, "heat": None,
            "rig_id": settings[st.index("rig_id")], "settings_version": st.VERSION, **changed}


def staged(python: str | Stage) -> AbstractContextManager[Stage]:
    """Return the process of a simulation: the one that is given, else a new one to be ended."""
    return nullcontext(python) if isinstance(python, Stage) else Stage(python)


def ran(job: dict[str, Any], progress: Callable[[float], None] | None = None,
        python: str | Stage = AUTO) -> Came:
    """Return what came of a job.  progress: called with the tick that is done.

    python: an interpreter, or a process that waits for a job: it knows by then what runs often.
    Raises RehearsalError.
    """
    with tempfile.TemporaryDirectory() as folder, staged(python) as stage:
        board = Path(folder) / "board"
        stage.tell({**job, "board": str(board)})
        while "came" not in (said := stage.hear()):
            stage.tell(GO_ON)
            if progress:
                progress(said["tick"])
        told = said["came"]
        journal = decode(path.read_bytes() for path in sorted(board.iterdir())
                         if path.name[1:].isdigit())
    return Came(journal, _ticks(journal.events, told["map"]), told)


def _ticks(events, steps):
    """Return the tick of each event, by (boot, uptime, tick) of each leap."""
    found = np.full(len(events), -1, np.int64)
    table = np.array(steps, np.int64).reshape(-1, 3)
    for boot in np.unique(table[:, 0]) if len(table) else ():
        mine = table[table[:, 0] == boot]
        here = np.flatnonzero(events["boot"] == boot)
        uptime = events["uptime_ds"][here].astype(np.int64)
        place = np.clip(np.searchsorted(mine[:, 1], uptime, side="right") - 1, 0, None)
        found[here] = mine[place, 2] + uptime - mine[place, 1]
    return found


def retained_before(span: Span, python: str | Stage = AUTO,
                    progress: Callable[[float], None] | None = None):
    """Return what the keeper retained at the begin, by a run-in under its own settings.

    None where nothing was before; [] where the record begins with a new board that could read
    nothing, and was locked out until somebody came.  Returns (values, whether the motor's heat
    is known).
    """
    first = span.time.starts[0]
    is_new = first.is_whole and (first.boot == 1 or not span.remembers)
    if span.begin <= first.first and is_new:
        was_locked = locked_of(span.journal, span.time)[1][0]
        return ([] if span.remembers and was_locked else None), True
    job = job_of(span, span.settings, from_tick=first.first, to_tick=span.begin,
                 finds_wishes=False)
    values = _locked_as_told(span, ran(job, progress, python).told["retained"])
    return values, is_new or span.begin - first.first >= _heat_lasts(span)


def _heat_lasts(span):
    """Return the ticks after which nothing is left of a heat that the motor began with."""
    return TAUS_KNOWN * span.settings[st.index("thermal_tau_s")] * DS_PER_S


def heat_known_from(span: Span) -> int:
    """Return the tick from which the motor's heat is known, whatever it began with."""
    return span.begin + _heat_lasts(span)


def _locked_as_told(span, values):
    """Return what is retained, locked out where the record tells it later by the reset."""
    locked = locked_of(span.journal, span.time)
    at = int(np.searchsorted(locked[0], span.begin, side="right")) - 1
    place = 1 + FIXED.index("lockout")
    if locked[1][max(0, at)] and not values[place]:
        table = span.journal.events
        resets = np.flatnonzero((span.time.event > span.begin)
                                & (table["code"] == ev.LOCKOUT_RESET))
        values = list(values)
        values[place] = el.BOTH
        values[1 + FIXED.index("lockout_element")] = int(table["argument"][resets[0]]) if len(
            resets) else el.NO_ELEMENT
    return values


def heat_at_begin(span: Span) -> int:
    """Return the heat of a motor of which nothing is known: as hot as the record allows.

    By the model's own form: so hot that the first 49-MOT of the record comes, or that none
    came, by the current that was read; yet not tripped.
    """
    tau_s = span.settings[st.index("thermal_tau_s")]
    base_mA = span.settings[st.index("thermal_base_mA")]
    acted = [one.acted for one in span.waves.spells if one.number == THERMAL
             and one.acted > span.begin]
    last = min([heat_known_from(span), span.end, *acted])
    seconds = np.arange(1, max(2, (last - span.begin) // DS_PER_S))
    ticks, amps = span.waves.channels()[ch.PUMP_MA]
    share = np.interp(span.begin + seconds * DS_PER_S, ticks, amps) / base_mA
    kept = tau_s / (tau_s + 1.0)
    # Of what came in each second, what is left at the end of another: a running sum.
    left = kept ** seconds
    own = dv.Heat.FULL / (tau_s + 1.0) * left * np.cumsum(share * share / left)
    most = (dv.Heat.FULL - own) / left
    is_told = bool(acted) and last == acted[0]
    heat = most[-1] + dv.HEAT_PER_PERMILLE / left[-1] if is_told else most.min()
    return int(max(0.0, min(HOT_FRAC * dv.Heat.FULL, heat)))
