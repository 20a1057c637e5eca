"""Which slot is written and what changes in it, against what the loader itself would choose."""

import pathlib

import hypothesis.strategies as st
import pytest
from hypothesis import given

from forebay.flash import slots
from tests.flash import chosen as board_choice
from tests.flash.chosen import chosen

CONTENTS = st.dictionaries(
    st.sampled_from(["program.mpy", "settings", "keeper/deep/z.mpy", "keeper/y.py"]),
    st.sampled_from(["old", "new", "else"]), max_size=4)
PROGRAMS = st.sets(st.sampled_from(["", "a", "b"]))
TRIALS = st.sampled_from(["", "a0", "a1", "a2", "a3", "b0", "b2", "b9", "c0", "a", "rubbish"])


loader = board_choice.loader


def board(root: pathlib.Path, status: slots.Status) -> None:
    """Lays out what the loader looks at: slot b is one of today, the others hold trees."""
    for slot in status.programs:
        place = root / slot
        if slot == "b":
            place.mkdir()
            for name in (slots.PROGRAM, slots.WHOLE):
                (place / name).touch()
        else:
            (place / "keeper").mkdir(parents=True)
    if status.pointer:
        (root / "slot").write_text(status.pointer)
    if status.trial:
        (root / "slot_new").write_text(status.trial)


@given(starts=st.integers(0, 9), slot=st.sampled_from("ab"))
def test_a_slot_without_starts_left_was_given_up(starts, slot):
    found = slots.maybe_given_up(slots.Status("", f"{slot}{starts}", ()))
    assert found == (slot if starts >= slots.TRIES else None)


@pytest.mark.parametrize("trial", ["", "a", "c4", "ax", "rubbish"])
def test_a_note_that_makes_no_sense_says_of_no_slot_that_it_was_given_up(trial):
    assert slots.maybe_given_up(slots.Status("a", trial, ("a", "b"))) is None


@pytest.mark.parametrize(("programs", "running", "pointer"), [
    ({"a": 1, "b": 2}, 2, "b"),   # b stands in for a
    ({"a": 1, "b": 2}, 1, "a"),   # the loader has moved the pointer already
    ({"a": 1, "b": 1}, 1, "a"),   # nobody can tell
    ({"a": 1, "b": 2}, 3, "a"), ({"a": 1}, 2, "a")])
def test_a_slot_that_stands_in_counts_as_the_one_that_stays(programs, running, pointer):
    status = slots.Status("a", "", tuple(programs))
    found = slots.in_place(status, programs, running)
    assert found.pointer == pointer
    assert slots.choose(found).keep == pointer


def test_the_loader_gives_a_trial_as_many_starts_as_we_think(loader):
    assert loader.TRIES == slots.TRIES


@given(pointer=st.sampled_from(["", "a", "b", "rubbish"]), trial=TRIALS, programs=PROGRAMS)
def test_what_runs_is_what_the_loader_chooses(loader, tmp_path_factory, pointer, trial, programs):
    status = slots.Status(pointer, trial, tuple(sorted(programs)))
    root = tmp_path_factory.mktemp("board")
    board(root, status)

    assert slots.running(status) == chosen(loader, root)


@given(pointer=st.sampled_from(["", "a", "b", "rubbish"]), trial=TRIALS, programs=PROGRAMS)
def test_once_the_pointer_is_kept_the_written_slot_is_never_what_runs(
        loader, tmp_path_factory, pointer, trial, programs):
    status = slots.Status(pointer, trial, tuple(sorted(programs)))
    choice = slots.choose(status)
    root = tmp_path_factory.mktemp("board")
    kept = slots.Status(choice.keep or pointer, "", status.programs)
    board(root, kept)

    assert choice.write in slots.SLOTS
    assert choice.write != choice.keep
    if choice.keep is not None:
        assert choice.keep in status.programs
        assert chosen(loader, root) == choice.keep
    else:
        assert not status.programs


def test_a_board_that_never_took_a_program_for_good_keeps_the_one_on_trial():
    assert slots.choose(slots.Status("", "b1", ("a", "b"))) == slots.Choice("b", "a")
    assert slots.choose(slots.Status("", "a2", ("a",))) == slots.Choice("a", "b")


def test_a_trial_beside_a_program_taken_for_good_is_what_is_written_over():
    assert slots.choose(slots.Status("a", "b2", ("a", "b"))) == slots.Choice("a", "b")


@given(wanted=CONTENTS, there=CONTENTS, other=CONTENTS)
def test_a_change_leaves_exactly_the_wanted_files(wanted, there, other):
    data = {path: value.encode() for path, value in wanted.items()}
    tree = slots.Tree({f"/b/{path}": value for path, value in there.items()},
                      sorted({"/b", *(f"/b/{path}".rpartition("/")[0] for path in there)}))
    sources = {f"/a/{path}": value for path, value in other.items()}

    change = slots.change("b", data, wanted, tree, sources)
    after = {path: value for path, value in tree.files.items() if path not in change.remove}
    after.update({path: sources[source] for path, source in change.copy.items()})
    after.update({path: value.decode() for path, value in change.write.items()})

    assert after == {f"/b/{path}": value for path, value in wanted.items()}
    assert not set(change.copy) & set(change.write)
    same = {f"/b/{path}" for path in wanted if there.get(path) == wanted[path]}
    assert not same & (set(change.copy) | set(change.write))


def test_source_beside_byte_code_goes_as_it_would_win():
    tree = slots.Tree({"/a/program.py": "1", "/a/program.mpy": "2"}, ["/a"])
    change = slots.change("a", {"program.mpy": b"-"}, {"program.mpy": "2"}, tree, {})

    assert change.remove == ("/a/program.py",)
    assert not change.write


def test_a_folder_that_is_moved_takes_its_files_along_and_the_place_of_what_was_there():
    tree = slots.Tree({"/a/keeper/x.py": "1", "/a/gone/y.py": "2", "/a/settings": "3"},
                      ["/a/keeper", "/a/keeper/deep", "/a/gone", "/a/keepers"])

    assert tree.moved("/a/keeper", "/a/gone") == slots.Tree(
        {"/a/gone/x.py": "1", "/a/settings": "3"}, ["/a/gone", "/a/gone/deep", "/a/keepers"])
