"""A flash of an emulated RP2040, cut at every step that its own firmware took on its flash.

One flash runs from the running keeper to the moment that the new one is taken
for good, while each erase and program is noted. The flash chip is then taken to
before such a step and into the middle of it, its littlefs mounted, and the
loaders say what they would run. At some points the board is really started.
"""

import random
import shutil

import pytest

from forebay.dispatch.keys import BOARD_PATH, ensure
from forebay.dispatch.sending import order
from forebay.flash import Job, firmware, flash, looking, rigfiles, slots
from forebay.flash.job import expected_hash
from forebay.rig import load
from forebay.shelf import Shelf
from keeper import settings
from tests.board import clock, image, rig, session, states, steps
from tests.flash import chosen, judging, old_board, rigs
from tests.flash.littlefs_board import LittleFsPrompt
from tests.journal.flash import PICO_BLOCKS, Chip, apply, tear

loader, loader_of_before = chosen.loader, chosen.loader_of_before
judge = judging.judge
POINTS_LEAST = 60
OLD = 1
LIGHT_LEAST_OFF_S = 30  # of the old settings; the demo's are 60 s
START_MS = 4500
CONFIRM_MS = 3000  # after a flash has seen it healthy for 5 s
LEAVE, COPY, VERIFY, POINTER, RESTART = "leave", "copy", "verify", "pointer", "restart"
PHASES = {"loader": COPY, "copy on the board": COPY, "copy": COPY, "verify": VERIFY,
          "pointer": POINTER}
# Points of each phase that the board is really started from; in the short form, and the part
# of the many points of copying that is looked at there.
STARTS = {COPY: 2, VERIFY: 1, POINTER: 2, RESTART: 1}
SHORT_STARTS, SHORT_EVERY = {POINTER: 2}, 8


@pytest.fixture(autouse=True)
def needed():
    if rig.missing():
        pytest.skip(rig.missing())


@pytest.fixture(scope="module")
def release(tmp_path_factory):
    """The firmware, but that it takes itself for good after 6 s instead of 5 min."""
    folder = tmp_path_factory.mktemp("release") / "firmware"
    shutil.copytree(rigs.FIRMWARE, folder, ignore=shutil.ignore_patterns("__pycache__"))
    change(folder / "keeper" / "loop.py", "HEALTHY_PERIODS = 5 * 60 *", "HEALTHY_PERIODS = 6 *")
    return folder


def change(path, old, new):
    text = path.read_text()
    assert text.count(old) == 1
    path.write_text(text.replace(old, new))


class Recorded:
    """One flash, and what it did to the board's flash.

    Attributes: steps, [(step, phase)] in their order; storage, the file system
    before them; interpreter, the flash below it; report.
    """

    def __init__(self, board, release, tmp_path):
        """Flashes a board that has power, and waits until that was taken for good."""
        self.board, self.steps = board, []
        self.phase, self.starts = LEAVE, None
        flash_before = board.flash()
        self.interpreter = flash_before[:image.STORAGE_OFFSET]
        self.storage = flash_before[image.STORAGE_OFFSET:]
        board.steps()
        with clock.following(board), Shelf(tmp_path / "shelf.sqlite") as shelf:
            job = Job(board.serial_path, load(), shelf, order, key=ensure(load().rig_id).secret,
                      folder=release, tell=self.tell)
            self.report = flash(job)
        board.run_ms(CONFIRM_MS)
        self.take()
        files, _ = mounted(board.flash()[image.STORAGE_OFFSET:])
        assert files[slots.POINTER].decode() == self.report.slot
        assert slots.TRIAL not in files
        assert board.faults == []

    def tell(self, stage, done, total):
        """Takes what was done in the phase before."""
        if stage in PHASES:
            self.take()
            self.phase = PHASES[stage]
            self.starts = self.board.state()["starts"]  # the last one is that of the prompt

    def take(self):
        for step, start in steps.taken(self.board):
            restarted = self.starts is not None and start > self.starts
            self.steps.append((step, RESTART if restarted else self.phase))

    def points(self):
        """Gives (phase, file system): before a phase, and in the middle and behind each step."""
        chance = random.Random(6)
        storage = bytearray(self.storage)
        yield LEAVE, bytes(storage)
        for step, phase in self.steps:
            torn = bytearray(storage)
            tear(torn, step, chance)
            yield phase, bytes(torn)
            apply(storage, step)
            yield phase, bytes(storage)


def mounted(storage):
    """Returns (files, folders) of a file system as it is."""
    return LittleFsPrompt(Chip(PICO_BLOCKS, storage)).files()


def judged(recorded, looks, is_short):
    """Looks at the points of a flash; returns phase -> [(file system, whether new)]."""
    looks.begin(*mounted(recorded.storage))
    found = {}
    for number, (phase, storage) in enumerate(recorded.points()):
        if is_short and phase in (LEAVE, COPY) and number % SHORT_EVERY:
            continue
        found.setdefault(phase, []).append((storage, looks.look(*mounted(storage))))
    return found


def some(points, count):
    """Returns the last of some points, or of that many one from each part of them."""
    return [points[(part + 1) * len(points) // count - 1] for part in range(count)]


def check(recorded, looks, is_short, starts_as, record_property):
    """starts_as(board, is_new) fails unless the right program runs on a board that was started."""
    found = judged(recorded, looks, is_short)
    started = 0
    for phase, count in (SHORT_STARTS if is_short else STARTS).items():
        for storage, is_new in some(found[phase], count):
            with rig.EmulatedBoard({}, flash=recorded.interpreter + storage, held=True,
                                   powered=False) as board:
                session.fit(board)
                board.power_on()
                starts_as(board, is_new)
                assert board.faults == []
            started += 1
    counts = {phase: len(points) for phase, points in found.items()}
    record_property("measured", f"emulated board: a flash cut at {sum(counts.values())} points"
                                f" {counts} of {len(recorded.steps)} steps, {started} of them"
                                " started")
    outcomes = [is_new for points in found.values() for _, is_new in points]
    assert len(outcomes) >= POINTS_LEAST
    # The switch is one step: old before it, new from it on.
    assert outcomes == sorted(outcomes)
    assert {True, False} == {is_new for _, is_new in found[POINTER]}
    assert all(is_new for _, is_new in found[RESTART])


def runs_program(board, program, files):
    """Fails unless a keeper with this program and these settings says hello."""
    board.run_ms(START_MS)
    live = states.live(board)
    assert board.resets == 0
    assert live["firmware_hash"] == expected_hash(program)
    assert live["settings_crc"] == rigfiles.settings_crc(files)
    assert live["safe_reason"] == 0


@pytest.mark.parametrize("is_short", [True, pytest.param(False, marks=pytest.mark.long)])
def test_an_update_that_is_cut_at_any_step_leaves_old_or_new_whole(
        is_short, release, judge, tmp_path, record_property):
    new = firmware.program(session.MPY_FORMAT, release,
                           rigfiles.numbers_of(rigfiles.of_slot(load())))
    old = session.program()
    numbers = load().settings()
    numbers[settings.index("light_least_off_s")] = LIGHT_LEAST_OFF_S
    files = {**rigfiles.of_slot(load()), slots.SETTINGS: settings.pack(numbers)}
    slot = {**old.files, **files}
    both = {f"/{name}/{path}": data for name in slots.SLOTS for path, data in {
        **slot, slots.WHOLE: looking.whole_text(firmware.hashes(slot))}.items()}
    before = {**firmware.loader(), **both, slots.POINTER: b"a",
              BOARD_PATH: ensure(load().rig_id).secret}
    with rig.EmulatedBoard(before, held=True, powered=False) as board:
        session.fit(board)
        board.power_on()
        board.run_ms(START_MS)
        recorded = Recorded(board, release, tmp_path)
    assert recorded.report.files == 2

    def starts_as(board, is_new):
        runs_program(board, new if is_new else old,
                     rigfiles.of_slot(load()) if is_new else files)

    check(recorded, judging.Looks(judge, slot, {**new.files, **rigfiles.of_slot(load())}),
          is_short, starts_as, record_property)


@pytest.mark.long
def test_a_board_of_before_that_is_cut_at_any_step_is_old_or_new_whole(
        release, judge, tmp_path, record_property):
    """Its tree is a small one, which says nothing on the line and leaves for the prompt."""
    new = firmware.program(session.MPY_FORMAT, release,
                           rigfiles.numbers_of(rigfiles.of_slot(load())))
    with rig.EmulatedBoard(old_board.board(OLD), held=True) as board:
        session.wait_usb(board)
        session.fit(board)
        recorded = Recorded(board, release, tmp_path)
    assert recorded.report.loader == ["/main.py"]

    def starts_as(board, is_new):
        if is_new:
            runs_program(board, new, rigfiles.of_slot(load()))
            return
        board.steps()
        board.run_ms(START_MS)
        written = b"".join(step[3] for step, _ in steps.taken(board))
        assert repr([OLD]).encode() in written  # its note in /seen

    old = judging.content(old_board.board(OLD), "a")
    check(recorded, judging.Looks(judge, old, {**new.files, **rigfiles.of_slot(load())}),
          False, starts_as, record_property)
