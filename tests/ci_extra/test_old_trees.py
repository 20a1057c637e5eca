"""Boards of earlier trees to this one and back, on the real interpreter, each by its own host.

The trees come from the repository's history; where that is cut short these tests are not run.
"""

import os
import pathlib
import subprocess
import sys

import pytest

from forebay.dispatch.sending import order
from forebay.flash import FlashError, Job, flash, running
from forebay.rig import load
from tests.flash import rigs
from tests.flash.flashing import live, slot_of
from tests.flash.interpreter import TerminalBoard

ROOT = pathlib.Path(__file__).resolve().parents[2]
TREES = {
    "slots of trees, settings shared by both": "b5f69f720d6c16817d60422a35f8a209d9b3701f",
    "one artefact a slot, its settings beside it": "068c989d486e6df6e4558582cfeda16d4e55ccbd",
}
DEADLINE_S = 300
# What an earlier tree does with its own sources: the board's files belong to nobody else.
FLASH_THERE = """
import pathlib, sys
from forebay.dispatch.sending import order
from forebay.flash import Job, flash
from forebay.rig import load
from tests.flash import rigs
folder = rigs.firmware(pathlib.Path(sys.argv[2]) / "release")
report = flash(Job(sys.argv[1], load(), None, order, other_rig=True, renew_loader=True,
                   folder=folder))
assert report.safe_reason == 0, report.notes
"""


@pytest.fixture(scope="module", params=TREES.values(), ids=list(TREES))
def tree(request, tmp_path_factory):
    """A folder with an earlier tree."""
    folder = tmp_path_factory.mktemp("tree")
    packed = subprocess.run(["git", "-C", ROOT, "archive", request.param], capture_output=True)
    if packed.returncode:
        pytest.skip(f"not run: the history here does not reach back to {request.param}")
    subprocess.run(["tar", "x", "-C", folder], input=packed.stdout, check=True)
    return folder


def flash_there(tree, board, folder):
    """Flashes a board with an earlier tree, by that tree's own host."""
    paths = os.pathsep.join(str(tree / part) for part in ("host", "firmware", ""))
    done = subprocess.run([sys.executable, "-c", FLASH_THERE, board.port, folder], cwd=tree,
                          env={**os.environ, "PYTHONPATH": paths}, timeout=DEADLINE_S,
                          capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-2000:]


def flash_here(board, folder):
    return flash(Job(board.port, load(), None, order, other_rig=True, folder=folder))


@pytest.fixture(scope="module")
def before(tree, tmp_path_factory):
    """Files of a board that the earlier tree flashed, and what its keeper says of itself."""
    with TerminalBoard({}) as board:
        flash_there(tree, board, tmp_path_factory.mktemp("there"))
        said = running.maybe_greeting(board.port)
        yield board.files(), said


def told(values):
    return {name: values[name] for name in ("firmware_hash", "settings_crc", "safe_reason")}


def test_a_board_of_before_comes_here_and_goes_back_by_order(tree, before, tmp_path):
    files, said = before
    release = rigs.firmware(tmp_path / "here")
    rigs.change(release)
    with TerminalBoard(files) as board:
        report = flash_here(board, release)
        now = live(board)
        running.leave(board.port, False, order, lambda *_: None)
        flash_there(tree, board, tmp_path)
        back = running.maybe_greeting(board.port)

    assert report.changed
    assert (now["safe_reason"], now["firmware_version"] > 0) == (0, True)
    assert now["firmware_hash"] != said["firmware_hash"]
    assert told(back) == told(said)


def test_a_board_of_before_runs_on_with_all_of_its_own_where_this_tree_fails(before, tmp_path):
    files, said = before
    bad = rigs.firmware(tmp_path / "bad")
    rigs.change(bad, rigs.RUN, f"{rigs.RUN}    raise ValueError('no good')\n")
    with TerminalBoard(files) as board:
        with pytest.raises(FlashError, match="went back to the one it had"):
            flash_here(board, bad)
        back = running.maybe_greeting(board.port)
        after = board.files()

    assert told(back) == told(said)
    assert slot_of(after, "a") == slot_of(files, "a")
    shared = {path: data for path, data in files.items() if path.startswith("/rig/settings")}
    assert {path: after[path] for path in shared} == shared
