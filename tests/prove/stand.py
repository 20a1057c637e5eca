"""A proof test at a simulated rig in one process: the keeper's own registers, a person's hands.

Time is the rig's own and goes on only while the sitting waits.  The board is asked by the
register map that a real one publishes; orders go to its keeper as they come from the desk.
"""

import pickle
import tempfile
from pathlib import Path
from types import SimpleNamespace

from forebay.asking import Kept
from forebay.asking.questions import read_answer
from forebay.prove import scene as scenes
from forebay.prove.at_rest import WET
from forebay.prove.found import tag
from forebay.rig import load
from forebay.twin import miswired
from forebay.twin.effects import apply
from forebay.twin.faults import NAMES as FAULTS
from forebay.twin.hands import Hands
from forebay.twin.twin import Twin
from forebay.wire.registers import INPUT_REGISTERS
from keeper import settings as st
from keeper.channels import CONTACTS
from keeper.journal.opening import open_journal
from keeper.link.published import Published
from tests.once import once

MINUTES = 1441
COOL_S, PRESS_S = 400, 2.0
SUN_W_M2, CELL_DEGC, AIR_DEGC = 800.0, 35.0, 14.0
FULL_FRAC = 0.5          # of the upper tank's full volume
SOON = {"trip_wait_s": 20}  # shorter than a rig's, for the tests' sake
HAND_DEGC, HAND_S = 33.0, 60.0
REACTS_S = 2.0           # a person does what was said after so long


def _places():
    """Returns {name of a register: (its kind, its place among those of that kind)}."""
    found, place, kind = {}, 0, ""
    for row in INPUT_REGISTERS:
        place, kind = (place + 1, kind) if row.kind == kind else (0, row.kind)
        found[row.name] = kind, place
    return found


PLACES = _places()


class Board:
    """The board of a twin, asked by the names of its registers."""

    def __init__(self, twin):
        self.twin = twin

    def values(self, *names):
        keeper = self.twin.keeper
        desk = SimpleNamespace(
            identity=SimpleNamespace(settings_crc=0, board_id=0, firmware_hash=0,
                                     settings_hash=0))
        published = Published(keeper, keeper.journal, desk)
        kinds = {PLACES[name][0] for name in names}
        tables = {kind: published.table(kind) for kind in ("status", "wish") if kind in kinds}
        found = {}
        for name in names:
            kind, place = PLACES[name]
            found[name] = (tables[kind][place] if kind in tables
                           else published.value(kind, place))
        return found


class Person:
    """Answers questions, and does by hand what is told, as somebody who stands there.

    Attribute told: every line that was told.
    """

    def __init__(self, twin, answers=()):
        self.twin, self.hands = twin, Hands(twin)
        self.answers = dict(answers)
        self.told = []
        self.todo = []           # (period, words of the hands)
        self.before = None       # the float that is held
        self.asked = []
        self.unused: tuple[str, ...] = ()

    def to(self, question):
        self.asked.append(question.name)
        if question.name == "light":
            self.hands.do("hand-valve", "open")
        if question.name in ("valve", "pump"):
            self.hands.do("hand-valve", "shut")
        default = "yes" if "yes" in question.hint else ""
        if question.name == "valve-lever":
            default = "open" if self.twin.plant.down.position > 0.5 else "shut"
        if question.name == "converter":
            default = "5.05 V"
        return read_answer(question, self.answers.get(question.name, default))

    def tell(self, text):
        self.told.append(text)
        for act in self._acts(text):
            self.todo.append((self.twin.periods + round(REACTS_S * 10), act))

    def _acts(self, text):
        for name in CONTACTS:
            if text.startswith(f"Float {tag(name)}:"):
                up = "lift" in text and name not in WET or "lift it." in text
                self.before = tag(name)
                return [("lift" if up else "lower", tag(name))]
        if text.startswith("Press the button"):
            return [("press", "HS-1", 2.0)]
        if text.startswith("Press the local stop"):
            return [("stop", "press")]
        if text.startswith("Lift the over-full float"):
            self.before = "LSHH-UP"
            return [("lift", "LSHH-UP")]
        if text.startswith("Hold TI-"):
            return [("warm", text.split()[1], HAND_DEGC, HAND_S)]
        if text.startswith("Pull the lamps' plug"):
            return [("lamps", "unplug")]
        if text.startswith("Plug the lamps in"):
            return [("lamps", "plug")]
        if "ack as it was" in text:
            found = [("leave", self.before)] if self.before else [("stop", "release")]
            self.before = None
            return found
        if text.startswith(("ok", "NOT", "left out")):
            found = [("stop", "release")] + ([("leave", self.before)] if self.before else [])
            self.before = None
            return found
        return []

    def act(self):
        self.hands.step()
        while self.todo and self.todo[0][0] <= self.twin.periods:
            self.hands.do(*self.todo.pop(0)[1])


def begun(demo, sun, changes, folder):
    """Returns a twin that somebody has begun, its journal in a folder.

    That takes minutes of the rig's time, and is the same each time: it is lived once.
    """
    state, files = once(f"begun {demo} {sun} {changes}", lambda: _begun(demo, sun, changes))
    twin = pickle.loads(state)
    board = folder / "board"
    board.mkdir()
    for name, data in files.items():
        (board / name).write_bytes(data)
    twin.keeper.journal.segments.root = str(board)
    twin.open_journal = lambda: _journal(board, twin.settings)
    return twin


def _journal(board, settings):
    return open_journal(str(board), settings[st.index("rig_id")], st.VERSION,
                        fitted=settings[st.index("fitted")])


def _begun(demo, sun, changes):
    """A new board is locked out and takes its motor for hot: somebody waits and presses.

    Returns (the twin as it then is, pickled; the files of its journal).
    """
    rig = load(demo=demo) if demo else load()
    settings = rig.settings()
    for name, value in SOON.items():
        settings[st.index(name)] = value
    plant = rig.plant()
    plant = {**plant, "upper.start_volume_m3": FULL_FRAC * plant["upper.full_volume_m3"],
             **dict(changes)}
    with tempfile.TemporaryDirectory() as folder:
        board = Path(folder) / "board"
        twin = Twin(plant, settings, ([sun] * MINUTES, [CELL_DEGC] * MINUTES,
                                      [AIR_DEGC] * MINUTES), lambda: _journal(board, settings))
        hands = Hands(twin)
        _passes(twin, hands, COOL_S)
        hands.press(PRESS_S)
        _passes(twin, hands, PRESS_S + 5)
        assert not twin.keeper.lockouts
        del vars(twin)["open_journal"]     # of this folder
        return pickle.dumps(twin), {path.name: path.read_bytes() for path in board.iterdir()}


def _passes(twin, hands, seconds):
    for _ in range(round(seconds * 10)):
        hands.step()
        twin.run(1)


class Stand:
    """A rig, its person, and the scene of a sitting.  wrong: a mistake or fault, from the start.
    """

    def __init__(self, folder, wrong=None, demo=None, answers=(), sun=SUN_W_M2, changes=(),
                 patience_s=60.0):
        self.rig = load(demo=demo) if demo else load()
        self.twin = begun(demo, sun, tuple(dict(changes).items()), folder)
        self.person = Person(self.twin, answers)
        if wrong in FAULTS:
            apply(wrong, self.twin.plant, self.twin.leads, self.twin.board.fitted)
        elif wrong:
            miswired.apply(wrong, self.twin.plant, self.twin.leads)
        self.sleep(5)
        self.scene = Ordered(Board(self.twin), self.rig, self.person, self.person.tell,
                             Kept(folder / "kept.json"),
                             clock=lambda: self.twin.periods / 10, sleep=self.sleep,
                             patience_s=patience_s)

    def sleep(self, seconds):
        for _ in range(max(1, round(seconds * 10))):
            self.person.act()
            self.twin.run(1)


class Ordered(scenes.Scene):
    """A scene whose orders go to the keeper itself.  Attribute sent: each order."""

    def __init__(self, board, *rest, **more):
        super().__init__(board, *rest, **more)
        self.twin = board.twin
        self.sent = []

    def order(self, code, a=0, b=0):
        self.sent.append((code, a, b))
        return self.twin.keeper.order(code, a, b)
