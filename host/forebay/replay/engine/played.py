"""A record through a keeper: the loop of a replay, in the simulation's process.

The keeper scans ten times a second of the record and does its slack work between, as on a
board.  What a person did is given to it as orders; where no rule of the settings explains a
recorded light, drain or rest, that was a person's wish (`wished`).
Runs on any Python from 3.9.
"""

from forebay.rehearse.stage import STOP, journal_of, totals
from forebay.replay.engine.aligning import IN_STEP, LATE, PARTED, Alignment
from forebay.replay.engine.board import Board
from forebay.replay.engine.edges import EVERY_SCANS, Edges
from forebay.replay.engine.following import Readings, Step, Within
from forebay.replay.engine.modelled import Modelled
from forebay.replay.engine.wished import PRESS, brightened, wished
from keeper import channels as ch
from keeper import modes
from keeper import settings as st
from keeper.clock import PERIOD_MS, TICKS_MASK
from keeper.keeper import Keeper
from keeper.protection import elements as el
from keeper.protection.elements import HELD_BY_VALUE
from keeper.retained import FIXED

TOLD_EVERY = 36000        # scans: an hour
LAST_SLACKS = 400         # until what waits is written
SETPOINT_FRAC = 0.02      # another light than the record's
SETTLED = 300             # scans for which a setpoint must differ: plans are made anew
LOOK_SCANS = 100          # between two looks whether the record can take over again
FOR_EVER = 1 << 40
THERMAL = el.number("49-MOT")
RUNS = (modes.TRIAL, modes.PUMPING, modes.RUNNING)


class Memory:
    """What outlives a restart, in memory: as `keeper.retained_files.RetainedFiles`."""

    failed = 0

    def __init__(self, values):
        """Take what was saved last [list of integers]."""
        self.values = values

    def load(self):
        """Return what was saved last."""
        return list(self.values)

    def save(self, values):
        """Keep values; return that it worked [bool]."""
        self.values = list(values)
        return True


class Replay:
    """One keeper after the other through the boots of a record."""

    def __init__(self, job):
        """Take the job."""
        self.job = job
        self.readings = Readings(job["record"], job["settings"])
        self.runs = [tuple(run) for run in job["record"]["runs"]]
        self.locked = Step(*job["record"]["locked"])
        # Elements that hold a side off, by number: when they did in the record.
        self.acting = {number: Within(spans) for number, spans in job["record"]["acting"]}
        self.deeds = [tuple(one) for one in job["deeds"]]
        self.finds = job["finds_wishes"]
        self.planned = [tuple(one) for one in job["record"]["planned"]]
        # Where it parted from the record under the record's own settings as well.
        self.unsure = Within(job["unsure"])
        self.settled_from = None
        self.astray = []          # (from, to) where the record was followed out of step
        base = job["setpoints"]
        self.base_setpoint = Step(*base) if base and base[0] else None
        self.board = Board(job, self.readings)
        self.map, self.parted, self.returned = [], [], []
        self.setpoints = [[], []]
        self.edges = Edges(job["settings"][st.index("starts_per_hour")])
        self.ended = None         # why it could not go on, None = it did
        self.retained = job["retained"]
        self.scans = 0

    def play(self, caller):
        """Play all boots; tell how far it is."""
        told = 0
        for count, (first, last) in enumerate(self.job["record"]["starts"]):
            begin = max(first, self.job["from_tick"])
            if begin > last or self.ended:
                continue
            self._boot(begin, count)
            while self.align.tick <= min(last, self.job["to_tick"]) and not self.ended:
                self._scan()
                if self.scans - told >= TOLD_EVERY:
                    told = self.scans
                    caller.tell(tick=self.align.tick)
                    if caller.hear() == STOP:
                        self.ended = "interrupted"
            self._finish()
        return self._came()

    def _boot(self, tick, count):
        memory = None if self.retained is None else Memory(self.retained)
        if count and not self.job["remembers"]:
            memory = None
        self.heat = None          # of the motor, that it takes up after its first scan
        record = self.job["record"]
        if memory and (tick > record["starts"][count][0] or not record["whole"][count]):
            self._take_up(memory, tick)
        self.keeper = Keeper(self.job["settings"], self.board, journal_of(self.job), memory)
        self.align = Alignment(self.runs, tick, record["row_ticks"], record["starts"][count][1])
        self.board.astray = False
        self._settle(tick)
        self.now = 0
        self.still = 0
        self.otherwise = 0   # scans in a row for which the light has another setpoint
        self.expected = None
        self.wished_at = -1

    def _take_up(self, memory, tick):
        """Begin amid a run of the board: what did not hold a side off there does not here.

        A board that starts takes what has not come back below its reset for acting.
        """
        spared = [number for number in HELD_BY_VALUE if not self.acting[number].at(tick)]
        self.board.hidden = [place for place in [el.judged(number - 1, el.J_VALUE)
                                                 for number in spared] if place < ch.COLUMNS]
        if THERMAL in spared and memory.values:
            place = 1 + FIXED.index("heat")
            self.heat = memory.values[place]
            memory.values = list(memory.values)
            memory.values[place] = 0

    def _settle(self, tick):
        """A record that begins while a side runs is followed out of step until this one runs.

        A keeper begins at rest: what runs without its doing would be a welded switch to it.
        """
        state = self.align.run[2]
        if state in RUNS:
            self.readings.fill(self.keeper.values, tick)
            self.board.keep(self.keeper.values, modes.RUNNING if state == modes.RUNNING
                            else modes.PUMPING)
            self._go_astray(tick)

    def _go_astray(self, tick):
        """From a tick on the record is what was: it is followed until both stand alike again."""
        self.align.settling = FOR_EVER
        self.settled_from = tick
        self.board.astray = True

    def _scan(self):
        keeper, align, board = self.keeper, self.align, self.board
        self._do(align.tick)
        if board.model:
            board.model.step()
        board.tick = align.tick
        self._note_tick(align.tick)
        self.now += 1
        now_ms = self.now * PERIOD_MS & TICKS_MASK
        keeper.scan(now_ms)
        if self.heat is not None:
            keeper.core.derived.heat.heat = self.heat
            self.heat = None
        keeper.slack(now_ms)
        self.scans += 1
        if self.scans % EVERY_SCANS == 0:
            self.edges.look(align.tick, keeper)
        state = keeper.state
        self.still = self.still + 1 if state == modes.STANDSTILL else 0
        if board.model:
            align.leap(align.tick + 1)
            self._maybe_return()
            return
        at = align.tick
        verdict = align.go_on(state)
        if self.settled_from is not None and not align.settling:
            self.astray.append((self.settled_from, at))
            self.settled_from = None
            board.astray = False
        if verdict == IN_STEP and not align.settling and state in (modes.PUMPING, modes.RUNNING):
            board.keep(keeper.values, state)
        if self.finds:
            self._look_at_light(at)
            if verdict == LATE:
                self._wish(at)
        if verdict == PARTED:
            self._part(at, state, False)
        elif verdict == IN_STEP and state == modes.RUNNING and not self._same_light(at):
            self._part(at, state, True)

    def _do(self, tick):
        """Let the person's orders that are due by now be given."""
        while self.deeds and self.deeds[0][0] <= tick:
            self._give(*self.deeds.pop(0)[1:])

    def _give(self, code, a, b):
        """Let the keeper have an order, or a press of its button."""
        if code == PRESS:
            self.board.press(a)
        else:
            self.keeper.order(code, a, b)

    def _look_at_light(self, tick):
        """Where the record announces more light than is wanted here, somebody pressed."""
        while self.planned and self.planned[0][0] <= tick:
            mW = self.planned.pop(0)[1]
            times = brightened(self.keeper.core.sequence.light, mW)
            if times and self.keeper.state == modes.RUNNING and not self.board.press_scans:
                self._found(tick, PRESS, times, 0)

    def _found(self, tick, *deed):
        self._give(*deed)
        self.found.append([tick, *deed])

    def _wish(self, at):
        """The record went on where the keeper's rules do not: somebody wished it."""
        if self.wished_at == at:
            return
        found = wished(self.keeper, self.align, self.job["wishes"])
        if found:
            self.wished_at = at
            self._found(at, *found)

    @property
    def found(self):
        """Deeds that were found, as plain data."""
        return self.job.setdefault("found", [])

    def _same_light(self, at):
        """Note the light's setpoint, or return whether it is that under the old settings."""
        mW = self.keeper.setpoint_mW
        if self.base_setpoint is None:
            ticks, values = self.setpoints
            if not values or values[-1] != mW:
                ticks.append(at)
                values.append(mW)
            return True
        base = self.base_setpoint.at(at)
        self.otherwise = self.otherwise + 1 if abs(mW - base) > SETPOINT_FRAC * base else 0
        return self.otherwise < SETTLED

    def _part(self, at, state, by_light):
        """From here on the record tells no more what this keeper would read."""
        run = self.align.run
        said = {"tick": at, "state": state, "meant": run[2], "cause": run[3],
                "setpoint_mW": self.keeper.setpoint_mW if by_light else None}
        self.parted.append(said)
        if self.job["loose"] or self.unsure.at(at):
            self._go_astray(at)
            return
        if self.job["sun"] is None:
            self.ended = "no sun"
            return
        model = Modelled(self.job, self.readings, at, run[2], self.board.position, self.runs)
        self.board.model = model
        said["doubt"] = model.doubt
        model.write(self.keeper.outputs)
        self.align.leap(at + 1)

    def _maybe_return(self):
        """Go back to the record where all stands alike again."""
        model = self.board.model
        if model is None or self.still % LOOK_SCANS:
            return
        tick = self.align.tick
        acting = self.keeper.core.protection.acting
        alike = bool(self.keeper.lockouts) == bool(self.locked.at(tick)) and all(
            spans.at(tick) == bool(acting[number - 1]) for number, spans in self.acting.items())
        if max(self.keeper.core.sequence.wait_periods) <= 0 and model.agrees(self.still, alike):
            self.returned.append(self.align.tick)
            self.board.model = None
            self.board.position = 0.0

    def _note_tick(self, tick):
        """Keep which tick of the record each scan stands for, where that is not the next one."""
        if self.expected != tick:
            self.map.append([self.keeper.journal.boot, self.keeper.uptime_ds + 1, tick])
        self.expected = tick + 1

    def _finish(self):
        keeper = self.keeper
        if self.settled_from is not None:
            self.astray.append((self.settled_from, self.align.tick))
            self.settled_from = None
        now_ms = self.now * PERIOD_MS & TICKS_MASK
        self.retained = keeper.retained.values()
        for _ in range(LAST_SLACKS):
            keeper.slack(now_ms)
        self.sums = totals(keeper)

    def _came(self):
        values = self.keeper.values
        model = self.board.model
        level = values[ch.LEVEL_MM]
        return {"map": self.map, "parted": self.parted, "returned": self.returned,
                "astray": self.astray, "edges": sorted(self.edges.found.items()),
                "found": self.found, "setpoints": self.setpoints,
                "ended": self.ended, "retained": self.retained, "totals": self.sums,
                "level_mm": level if level > ch.INVALID + ch.CLIPPED + 2 else None,
                "hottest_mdegC": self.board.hottest, "lockouts": self.keeper.lockouts,
                "is_modelled": model is not None, "scans": self.scans,
                "last_tick": self.align.tick}


def play(job, caller):
    """Replay a job's record, tell how far it is, and what came of it."""
    replay = Replay(job)
    if job["heat"] is not None and job["retained"]:
        job["retained"][1 + FIXED.index("heat")] = job["heat"]
    caller.tell(came=replay.play(caller))
