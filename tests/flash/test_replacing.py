"""A board in the place of one that is gone, on the real interpreter and at its prompt."""

import time
import types

import pytest

from forebay import cli
from forebay.balance import balance
from forebay.dispatch import keys
from forebay.dispatch.sending import order
from forebay.exits import Exit
from forebay.flash import FlashError, Job, begin, flash, replacing
from forebay.rig import load, load_text
from forebay.shelf import Shelf
from forebay.shelf.checking import Verdict, check
from forebay.shelf.lives import at_once
from forebay.wire import Board, pull
from keeper.channels import TOTALS
from keeper.journal.opening import open_journal
from tests.flash import rigs
from tests.flash.interpreter import TerminalBoard

OLD, NEW = "0900000000000001", "0102030405060708"


@pytest.fixture(scope="module")
def old(tmp_path_factory, patience):
    """A folder with the shelf of a board that is gone, and the totals that it told last."""
    folder = tmp_path_factory.mktemp("old")
    release = rigs.firmware(folder / "release")
    rigs.change(release, r'b"\1\2\3\4\5\6\7\x08"', r'b"\x09\0\0\0\0\0\0\1"')
    # Its totals are kept with a row, on flash: one does not wait a minute for each.
    text = load().toml_text
    for key, seconds in (("row_standstill", 5), ("tail_sync", 1)):
        assert text.count(f'{key} = "60 s"') == 1
        text = text.replace(f'{key} = "60 s"', f'{key} = "{seconds} s"')
    rig = load_text(text, "soon")
    with TerminalBoard({}) as board, Shelf(folder / "shelf.sqlite") as shelf:
        flash(Job(board.port, rig, shelf, order, key=keys.ensure(rig.rig_id).secret,
                  folder=release))
        shelf.add_rig(rig.rig_id, rig.rig.name, rig.toml_text, rig.digest)
        with Board(board.port) as wire:
            while wire.values("rows")["rows"] < 3:
                time.sleep(0.1)
        pull(board.port, shelf)
    return folder / "shelf.sqlite"


def test_the_new_board_goes_on_from_what_was_pulled_and_the_shelf_as_one_history(
        old, run, release, tmp_path):
    with Shelf(old) as shelf:
        past = replacing.past_of(shelf, "0001")
        assert (past.board, past.rig_id) == (OLD, load().rig_id)
        assert max(past.totals) > 0
        with TerminalBoard({}) as board:
            report = run(board, shelf=shelf, past=past)
            with Board(board.port) as wire:
                live = wire.live()
            pull(board.port, shelf)
            with pytest.raises(FlashError, match="has recorded already"):
                run(board, shelf=shelf, past=past)
        assert report.replaces == OLD
        assert (live["boot"], f"{live['board_id']:016x}") == (1, NEW)
        for name, total in zip(TOTALS, past.totals, strict=True):
            assert live[name] >= total
        assert shelf.boards(past.rig_id) == {0: OLD, 1: NEW}
        assert at_once(shelf, past.rig_id) == []
        assert f"{NEW} from 20" in " ".join(shelf.clock(past.rig_id).notes())
        found = check(shelf, past.rig_id)
        assert found.verdict is Verdict.SOUND
        assert balance(shelf, load(), past.rig_id).notes is not None


def test_a_board_that_is_not_on_the_shelf_is_told_with_those_that_are(old):
    with Shelf(old) as shelf:
        with pytest.raises(FlashError, match=f"'77' is none of the boards.*{OLD}"):
            replacing.past_of(shelf, "77")
        with pytest.raises(FlashError, match="is none of the boards"):
            replacing.past_of(shelf, "")


@pytest.mark.parametrize("totals", [
    tuple(range(len(TOTALS))), tuple(10**12 + place for place in range(len(TOTALS)))])
def test_a_journal_goes_on_from_its_first_segment(tmp_path, totals):
    past = replacing.Past(7, OLD, totals)
    (tmp_path / replacing.FIRST.rpartition("/")[2]).write_bytes(replacing.first_segment(past))
    journal = open_journal(str(tmp_path), 7, 1)
    assert journal.boot == 1
    assert [high * 10**9 + low for high, low in zip(
        journal.restored_high, journal.restored_low, strict=True)] == list(totals)
    assert journal.lost == 0


class Prompt:
    """A board's prompt with some files in its journal."""

    def __init__(self, files):
        self.files = files
        self.written = {}

    def tree(self, folder):
        return types.SimpleNamespace(files=dict.fromkeys(self.files, "-"))

    def maybe_read(self, path):
        return self.files.get(path)

    def make_folder(self, path):
        pass

    def replace(self, path, data):
        self.written[path] = data


PAST = replacing.Past(7, OLD, (1,) * len(TOTALS))


@pytest.mark.parametrize(("chip", "files", "said"), [
    (OLD, {}, f"this is board {OLD} itself"),
    (NEW, {"/journal/d00001": b"x"}, "has recorded already"),
    (NEW, {replacing.FIRST: b"another"}, "has recorded already")])
def test_a_board_with_a_past_of_its_own_gets_no_other(chip, files, said):
    prompt = Prompt(files)
    with pytest.raises(FlashError, match=said):
        replacing.give(prompt, chip, PAST)  # type: ignore[arg-type]
    assert prompt.written == {}


def test_a_flash_that_was_cut_off_gives_the_past_again():
    prompt = Prompt({replacing.FIRST: replacing.first_segment(PAST)})
    replacing.give(prompt, NEW, PAST)  # type: ignore[arg-type]
    assert prompt.written == {replacing.FIRST: replacing.first_segment(PAST)}


def test_without_a_description_the_shelfs_is_taken_and_another_rigs_is_refused(old, tmp_path):
    with Shelf(old) as shelf:
        past = replacing.past_of(shelf, OLD)
        rig, path = begin._rig(None, shelf, past)
        assert (rig.rig_id, path) == (load().rig_id, None)
        other = tmp_path / "other.toml"
        other.write_text(load().toml_text.replace(load().rig.name, "another"))
        with pytest.raises(FlashError, match=f"board {OLD} was of rig {past.rig_id}"):
            begin._rig(str(other), shelf, past)


def test_a_new_key_is_made_and_the_one_before_still_opens_the_board_that_has_it():
    first = keys.ensure(99)
    second = keys.renew(99)
    assert second.id != first.id
    assert keys.ensure(99).id == second.id
    named = keys.maybe_key_named(first.id)
    assert named is not None
    assert named.secret == first.secret


def test_the_command_names_the_boards_there_are(old, capsys):
    assert cli.run(["flash", "--replaces", "77", "--shelf", str(old)]) == Exit.INPUT
    assert OLD in capsys.readouterr().err
