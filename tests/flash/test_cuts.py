"""A flash that is cut off at every one of its steps: a whole program, and the next flash mends.

Each step is one command to the board; what the board holds after it is what a
loss of power, or of the laptop, would leave there.
"""

import pytest

from forebay.flash import deploy, firmware, looking, slots
from forebay.flash.prompt import Prompt
from tests.flash import old_board, rigs
from tests.flash.interpreter import TerminalBoard

# The steps of the chip below them are more: test_littlefs_cuts.py cuts there.
UPDATE_POINTS_LEAST, FIRST_POINTS_LEAST, BEFORE_POINTS_LEAST = 15, 20, 30
MEND_EVERY = 4
OLD, NEW = 1, 2
BYTE_CODE = 0x306  # what this interpreter says of itself


class WatchedPrompt(Prompt):
    """Keeps what the board holds after each command, where that changed."""

    def __init__(self, board):
        self.board = board
        self.seen = []
        super().__init__(board.port)

    def run(self, script):
        lines = super().run(script)
        self.seen.append(self.board.files())
        return lines


def wanted(folder) -> looking.Wanted:
    """What a program of some small files asks for, with settings that tell whose they are."""
    program = firmware.program(BYTE_CODE, folder)
    version = (folder / "keeper" / "__init__.py").read_bytes()
    return looking.Wanted(program, {slots.SETTINGS: version, slots.WIRING: version},
                         {"/rig/key": bytes(32)}, firmware.loader(folder))


def put_on(prompt, what):
    with prompt:
        deploy.deploy(prompt, what, looking.look(prompt, what), lambda *_: None)


def started(board, files=None):
    """Starts the board; returns the versions that its program saw of itself, None without one.

    The program of these tests notes them, and leaves for the prompt.
    """
    if files is None:
        board.cut_power()
    else:
        board.put({path: data for path, data in files.items() if path != "/seen"})
    board.wait_prompt()
    return board.files().get("/seen")


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    top = tmp_path_factory.mktemp("programs")
    old = rigs.small(top / "old", OLD)
    new = rigs.small(top / "new", NEW, {"more": f"VERSION = {NEW}\nTEXT = {'more' * 1500!r}\n"})
    return wanted(old), wanted(new)


def every_point(board, new):
    """Returns what the board holds after each step of a flash of `new` that changed anything."""
    prompt = WatchedPrompt(board)
    put_on(prompt, new)
    points = []
    for files in prompt.seen:
        if not points or files != points[-1]:
            points.append(files)
    return points


def check(board, points, before, new):
    """Each point starts whole: what was there before, or the new program; the next flash mends.

    The next flash is tried at some of the points, and at many more on littlefs
    (test_littlefs_cuts.py).
    """
    outcomes = []
    for place, files in enumerate(points):
        seen = started(board, files)
        assert seen in (before, repr([NEW]).encode())
        outcomes.append(seen)
        if place % MEND_EVERY == 0:
            put_on(Prompt(board.port), new)
            assert started(board) == repr([NEW]).encode()
    return outcomes


def test_an_update_cut_at_any_step_leaves_a_whole_program(folders, record_property):
    old, new = folders
    with TerminalBoard({}) as board:
        put_on(Prompt(board.port), old)
        assert started(board) == repr([OLD]).encode()
        points = every_point(board, new)
        outcomes = check(board, points, repr([OLD]).encode(), new)

    record_property("measured", f"update cut at {len(points)} steps on the interpreter")
    assert len(points) >= UPDATE_POINTS_LEAST
    # The switch is one step: old before it, new from it on.
    first_new = outcomes.index(repr([NEW]).encode())
    assert set(outcomes[:first_new]) == {repr([OLD]).encode()}
    assert set(outcomes[first_new:]) == {repr([NEW]).encode()}


def test_a_first_flash_cut_at_any_step_leaves_the_prompt_until_all_is_there(
        folders, record_property):
    _, new = folders
    with TerminalBoard({}) as board:
        points = every_point(board, new)
        outcomes = check(board, points, None, new)

    record_property("measured", f"first flash cut at {len(points)} steps on the interpreter")
    assert len(points) >= FIRST_POINTS_LEAST
    assert set(outcomes[:-1]) == {None}
    assert outcomes[-1] == repr([NEW]).encode()


def test_a_board_of_before_cut_at_any_step_runs_its_tree_until_it_runs_the_new_program(
        folders, record_property):
    _, new = folders
    with TerminalBoard(old_board.board(OLD)) as board:
        assert started(board) == repr([OLD]).encode()
        points = every_point(board, new)
        outcomes = check(board, points, repr([OLD]).encode(), new)

    record_property("measured", f"board of before cut at {len(points)} steps on the interpreter")
    assert len(points) >= BEFORE_POINTS_LEAST
    first_new = outcomes.index(repr([NEW]).encode())
    assert set(outcomes[:first_new]) == {repr([OLD]).encode()}
    assert set(outcomes[first_new:]) == {repr([NEW]).encode()}


def test_a_board_of_before_keeps_its_tree_and_its_settings_until_the_tree_is_written_over(
        folders):
    old, new = folders
    with TerminalBoard(old_board.board(OLD)) as board:
        board.wait_prompt()
        put_on(Prompt(board.port), new)
        assert started(board) == repr([NEW]).encode()
        first = board.files()
        # As if it had been healthy for minutes.
        healthy = {**first, "/slot": b"b"}
        del healthy["/slot_new"]
        assert started(board, healthy) == repr([NEW]).encode()
        put_on(Prompt(board.port), old)
        assert started(board) == repr([OLD]).encode()
        second = board.files()

    assert first["/rig/settings"] == old_board.SETTINGS
    assert "/a/keeper/boards/start.py" in first
    assert not [path for path in second if "keeper" in path or path == "/rig/settings"]
