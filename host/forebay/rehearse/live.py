"""A board without a board: a simulated rig served at the pace of a clock, until it is ended.

Its rig has an identity and a key of its own, so that nothing of it can be taken for
the real one's: orders signed for it are no orders there, and a pull from it is
no part of that history.
"""

import contextlib
import difflib
import random
import signal
import textwrap
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from forebay import lastused, units
from forebay.dispatch import keys
from forebay.errors import InputError
from forebay.rehearse.options import MARK, NEAR, Plan, RehearsalError
from forebay.rehearse.process import AUTO, Stage
from forebay.rehearse.run import folder_of, job, mark_of
from forebay.rehearse.stage import STOP
from forebay.rig.governing import identity
from forebay.shelf import Rehearsed, Shelf
from forebay.twin import hands
from forebay.twin.faults import NAMES
from forebay.typed import typed_lines
from keeper import settings as st
from keeper.clock import PERIODS_PER_S
from keeper.modes import PUMPING, RUNNING, TRIAL

OWN_NAME = "{} (rehearsal)"  # of the rig that is served
FOLDERS = 4096               # identities that one rig may be served under
PRESS_S, PRESS_MOST_S = 2.0, 60.0
COLUMNS = 80                 # of a terminal
RETRY_S = 1.0                # between two looks at a terminal that others have now
WAIT, METER, HELP = "wait", "meter", "help"
L_PER_M3 = 1000.0
WAIT_MOST_S = 3600.0
METER_MODES = {TRIAL: "pump", PUMPING: "pump", RUNNING: "turbine"}  # else at standstill


@dataclass
class Live:
    """A served board, as it is now.

    port: its name for --port; scans, late_scans [-], late_most_s [s]: of the wall
    clock, since it is served; interpreter, interpreter_note: as of a rehearsal.
    """

    plan: Plan
    rig_id: int
    speed: float
    port: str
    interpreter: str
    interpreter_note: str
    periods: int = 0
    state: int = 0
    scans: int = 0
    late_scans: int = 0
    late_most_s: float = 0.0
    told: Rehearsed | None = None
    wired: str = ""  # the newest fault or mistake after which a hand meter's volts are known

    def mark(self, told: Rehearsed) -> None:
        """Mark the rig as rehearsed, on the shelf that it leaves and for a pull to any other."""
        self.told = told
        with Shelf(self.shelf) as shelf:
            shelf.note_rehearsal(self.rig_id, told)
        lastused.note_rehearsed(self.rig_id, told.as_text())

    def take(self, said: dict) -> None:
        """Take what the simulation says of itself."""
        for name in ("periods", "state", "scans", "late_scans", "late_most_s"):
            setattr(self, name, said[name])

    def note(self, what: dict) -> None:
        """Note what a line brought on, for a hand meter: the newest that it knows."""
        from forebay.finding import practice

        verb, argument, *_ = what.get("hands", ("", ""))
        name = what.get("fault") or (argument if verb == "miswire" else "")
        if practice.is_known(name):
            self.wired = name

    def clock(self) -> str:
        """Return the rig's local time of day, HH:MM:SS."""
        now = self.plan.sun.start_utc + timedelta(seconds=self.periods / PERIODS_PER_S)
        return f"{now.astimezone(self.plan.zone):%H:%M:%S}"

    @property
    def shelf(self) -> Path:
        """The shelf that knows this rig's description."""
        return self.plan.out / "shelf.sqlite"

    @property
    def report(self) -> Path:
        """Where the JSON document is left."""
        return self.plan.out / MARK

    def as_json(self) -> dict:
        """Return it as documented in docs/json.md."""
        return {"port": self.port, "rig_id": self.rig_id, "speed": self.speed,
                "local_time": self.clock(), "shelf": str(self.shelf),
                "board": str(self.plan.out / "board"), "interpreter": self.interpreter}

    def opening_lines(self) -> list[str]:
        """Return what a person may do now, as lines for a terminal."""
        note = self.interpreter_note
        return [
            *([f"not under the faster interpreter: {note}"] if note else []),
            *textwrap.wrap(self.plan.rig.assumed_line(), COLUMNS, break_on_hyphens=False),
            f"A simulated board answers at {self.port}, where it is {self.clock()}.",
            "In another terminal:",
            f"  forebay watch --port {self.port}",
            f'  forebay dispatch light "0.6 W" --for "1 h" --port {self.port}',
            f"  forebay pull --port {self.port} --shelf {self.shelf}",
            f"  forebay prove --port {self.port} --shelf {self.shelf}",
            "Here: the name of a fault, or what a person's hands do, such as: lift LSH-UP;",
            "the word help lists it. Ctrl-C ends it.",
            *([f"Its time runs {self.speed:g} times as fast."] if self.speed != 1 else []),
        ]

    def closing_lines(self) -> list[str]:
        """Return how it went, as lines for a terminal."""
        return [f"served {self.scans} scans until {self.clock()};"
                f" {self.late_scans} late by more than a period, {self.late_most_s * 1000:.0f} ms"
                " at most"]


def asked(text: str) -> dict | None:
    """Return what a line of a person asks for, as the simulation is told it; None for nothing.

    A fault's name, or `button`, perhaps with the time that it is held.  Raises
    RehearsalError.
    """
    word, _, rest = text.strip().partition(" ")
    if not word:
        return None
    if word == "button":
        return {"button_s": _held_s(rest.strip())}
    if word in (WAIT, METER, HELP):
        return {word: _waited_s(rest) if word == WAIT else rest.strip()}
    if word in hands.VERBS:
        return {"hands": _by_hand(text)}
    name = text.strip()
    if name in NAMES:
        return {"fault": name}
    words = [*map(str, NAMES), "button", *hands.VERBS, WAIT, METER]
    near = difflib.get_close_matches(name, words, NEAR, cutoff=0.4) or (
        difflib.get_close_matches(word, words, NEAR, cutoff=0.6))
    like = f"; did you mean {' or '.join(near)}?" if near else ""
    raise RehearsalError(f"{name!r} is neither a fault nor button, nor anything else that a"
                         f" hand does{like} The faults are in host/docs/faults.md and in the"
                         " help; the word help lists the rest")


def help_lines() -> list[str]:
    """Return what a line on the standard input may be, as lines for a terminal."""
    rows = [*((f"{verb} {form}".strip(), does) for verb, (form, does) in hands.VERBS.items()),
            ("button [2 s]", "press the button"),
            (f"{METER} TP3", "what a hand meter would show at a test point in middling sun, with"
             " the newest fault or mistake of the wiring: for the search, not the volts of this"
             " moment"),
            (f"{WAIT} 5 s", "let time pass before the next line, for lines from a file"),
            ("a fault's name", "bring it on; host/docs/faults.md lists them")]
    found = []
    for form, does in rows:
        found += textwrap.wrap(f"{form}: {does}", COLUMNS, initial_indent="  ",
                               subsequent_indent="      ", break_on_hyphens=False)
    return found


def _by_hand(text):
    """Return (verb, argument, number, seconds) of a line about hands."""
    def of(dimension, factor=1.0):
        return lambda written: units.parse(written, dimension) * factor

    try:
        return hands.parsed(text, of("time"), of("temperature"), of("volume", L_PER_M3))
    except hands.HandsError as error:
        raise RehearsalError(str(error)) from None


def _waited_s(text):
    try:
        seconds = units.parse(text, "time")
    except units.UnitError as error:
        raise RehearsalError(f"{WAIT} {text!r}: {error.reason}") from None
    if not 0 <= seconds <= WAIT_MOST_S:
        raise RehearsalError(f"{WAIT} {text!r}: must be 0 to {WAIT_MOST_S:g} s")
    return seconds


def _held_s(text):
    try:
        seconds = units.parse(text, "time") if text else PRESS_S
    except units.UnitError as error:
        raise RehearsalError(f"button {text!r}: {error.reason}") from None
    if not 0 < seconds <= PRESS_MOST_S:
        raise RehearsalError(f"button {text!r}: must be more than 0 and at most"
                             f" {PRESS_MOST_S:g} s")
    return seconds


def own_identity(plan: Plan) -> int:
    """Return the identity of what is served of a plan [-]: of its rig's name and its folder.

    What is practised in one folder is no part of what was in another; by the rig's part a
    client knows it, wherever it runs.
    """
    rig, folder = identity(OWN_NAME.format(plan.rig.rig.name)), identity(str(plan.out.resolve()))
    return (rig - rig % FOLDERS + folder % FOLDERS) or FOLDERS


def is_served_of(rig_id: int, name: str) -> bool:
    """Return whether an identity is that of a rig served under the name of another."""
    return rig_id // FOLDERS == identity(OWN_NAME.format(name)) // FOLDERS


def serve(plan: Plan, number: int | None, *, ahead_s: float, speed: float = 1.0,
          python: str = AUTO, seed: int = 1, begun: Callable[[Live], None],
          tell: Callable[[str], None]) -> Live:
    """Serve a plan's board until a signal ends it; return how it went.

    number: TCP port [-], 0 = a free one; None = a pseudo terminal where there
    are such.  ahead_s: moment at which clients come [s from the start].  begun:
    called once it answers; tell: with each line for a person.  Lines on the
    standard input bring faults on and press the button.  Raises InputError.
    """
    name = OWN_NAME.format(plan.rig.rig.name)
    rig_id = own_identity(plan)
    plan.settings[st.index("rig_id")] = rig_id
    key = keys.ensure(rig_id)
    with Stage(python) as stage:
        with Shelf(folder_of(plan) / "shelf.sqlite") as shelf:
            shelf.add_rig(rig_id, name, plan.rig.toml_text, plan.rig.digest)
        stage.tell({**job(plan, rig_id, seed), "serve": number, "speed": speed,
                    "ahead_s": ahead_s, "key": key.secret.hex()})
        said = stage.hear()
        if "error" in said:
            raise RehearsalError(f"--serve {number}: the port cannot be opened ({said['error']});"
                                 " name another one, or none")
        live = Live(plan, rig_id, speed, said["port"], stage.interpreter, stage.note)
        live.take(said)
        with _until_told(stage), lastused.port_for_now(live.port):
            start_s = time.time() - live.periods / PERIODS_PER_S / speed
            live.mark(mark_of(plan, seed, start_s, None, speed))
            begun(live)
            threading.Thread(target=_listen, args=(stage, live, tell), daemon=True).start()
            while "ended" not in said:
                said = stage.hear()
                live.take(said)
                for line in said.get("said", ()):
                    tell(f"{live.clock()} {line}")
    return live


@contextlib.contextmanager
def _until_told(stage):
    """Let the signals that would end this program end what is served."""
    ending = [number for name in ("SIGINT", "SIGTERM", "SIGHUP")
              if (number := getattr(signal, name, None)) is not None]
    before = [(number, signal.signal(number, lambda *_: stage.tell(STOP))) for number in ending]
    waits = getattr(signal, "SIGTTIN", None)
    if waits is not None:  # in the background reading then fails, and does not stop this program
        before.append((waits, signal.signal(waits, signal.SIG_IGN)))
    try:
        yield
    finally:
        for number, handler in before:
            signal.signal(number, handler)


def _listen(stage, live, tell):
    """Do what lines on the standard input ask for, until there are no more."""
    # In the background the terminal is another program's: look again later.
    for line in typed_lines(RETRY_S):
        try:
            what = asked(line)
            if what is None:
                continue
            if not _host_does(what, live, tell):
                stage.tell(what)
            live.note(what)
            if "fault" in what and live.told:
                live.mark(live.told.with_fault(time.time(), what["fault"]))
        except InputError as error:
            tell(str(error))
            continue
        tell(f"{live.clock()} {line.strip()}")


def _host_does(what, live, tell):
    """Do what needs no simulation; return whether it was that."""
    if HELP in what:
        for line in help_lines():
            tell(line)
    elif WAIT in what:
        time.sleep(what[WAIT] / live.speed)
    elif METER in what:
        tell(f"{METER} {what[METER]}: {_metered_V(live, what[METER]):.2f} V")
    else:
        return False
    return True


def _metered_V(live, point_id):
    """Return what a hand meter shows at a test point of the served rig [V]."""
    from forebay.finding import practice

    mode = METER_MODES.get(live.state, "standstill")
    return practice.meter_reading(live.plan.rig, live.wired or None, mode, point_id,
                                  random.Random(1))
