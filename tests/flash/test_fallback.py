"""Programs that do not stay up, flashes that are broken off, boards that hold a tree of before."""


import pytest

from forebay.dispatch.keys import BOARD_PATH
from forebay.flash import FlashError, firmware, rigfiles, running
from forebay.rig import load
from keeper import settings
from keeper.integers import F_VERSION
from tests.flash import old_board, rigs
from tests.flash.flashing import hash_of, live
from tests.flash.interpreter import TerminalBoard


def test_a_program_that_fails_is_given_up_and_the_old_one_runs_again(flashed, run, release):
    _, files = flashed
    rigs.change(release, rigs.RUN, f"{rigs.RUN}    raise ValueError('no good')\n")
    with TerminalBoard(files) as board:
        with pytest.raises(FlashError, match="went back to the one it had") as failed:
            run(board)
        values = live(board)
        after = board.files()

    said = 'its last error: ValueError: no good (File "program", in run)'
    assert said in str(failed.value)
    assert "\n" not in str(failed.value)
    assert (after["/slot"], after["/slot_new"]) == (b"a", b"b4")
    assert after["/last_error"].startswith(b"Traceback (most recent call last):")
    assert after["/last_error"].endswith(b"ValueError: no good\n")
    assert values["firmware_hash"] == hash_of(files, "a")
    assert values["safe_reason"] == 0


def test_a_flash_that_a_person_interrupts_leaves_the_rig_watched_by_the_old_program(
        flashed, run, release):
    _, files = flashed
    rigs.change(release)

    def interrupt(stage, done, total):
        if stage == "verify":
            raise KeyboardInterrupt

    with TerminalBoard(files) as board:
        with pytest.raises(KeyboardInterrupt):
            run(board, tell=interrupt)
        _, values = running.wait_healthy(board.port, "", lambda *_: None)

    assert values["firmware_hash"] == hash_of(files, "a")
    assert values["safe_reason"] == 0


def test_an_old_program_that_comes_back_has_its_own_settings(run, tmp_path, monkeypatch):
    older = settings.VERSION - 1
    old = rigs.firmware(tmp_path / "old")
    table = old / "keeper" / "settings.py"
    table.write_text(table.read_text().replace(
        f"\nVERSION = {settings.VERSION}\n", f"\nVERSION = {older}\n"))
    bad = rigs.small(tmp_path / "bad", 1)
    start = bad / "keeper" / "boards" / "start.py"
    start.write_text(f"{rigs.START}    raise ValueError('no good')\n")
    with TerminalBoard({}) as board:
        with monkeypatch.context() as patch:
            form = list(settings.FORM)
            form[F_VERSION] = older
            patch.setattr(settings, "FORM", form)
            run(board, folder=old, key=None)
        with pytest.raises(FlashError, match="went back to the one it had"):
            run(board, folder=bad, key=None)
        values = live(board)
        files = board.files()

    assert files["/a/settings"][4] == older
    assert files["/b/settings"][4] == settings.VERSION
    assert values["safe_reason"] == 0


def short_trial(folder, monkeypatch):
    """Makes the program of a folder one that is healthy after six seconds."""
    loop = folder / "keeper" / "loop.py"
    text = loop.read_text()
    assert text.count("HEALTHY_PERIODS = 5 * 60 * PERIODS_PER_S") == 1
    loop.write_text(text.replace("HEALTHY_PERIODS = 5 * 60", "HEALTHY_PERIODS = 6"))
    monkeypatch.setattr(running, "TRIAL_S", 8)


def test_a_flash_that_waits_ends_once_the_slot_is_taken_for_good(
        flashed, run, release, monkeypatch):
    _, files = flashed
    short_trial(release, monkeypatch)
    with TerminalBoard(files) as board:
        report = run(board, wait=True)
        after = board.files()

    assert (report.slot, report.trial_s) == ("b", 0.0)
    assert after["/slot"] == b"b"
    assert "/slot_new" not in after


def test_a_program_that_fails_late_in_its_trial_is_told_by_a_flash_that_waits(
        flashed, run, release, monkeypatch):
    _, files = flashed
    short_trial(release, monkeypatch)
    rigs.change(release, "System, loader.confirm)", "System, lambda: settings.no_good)")
    with TerminalBoard(files) as board:
        with pytest.raises(FlashError, match="went back to the one it had.*no_good"):
            run(board, wait=True)
        values = live(board)
        after = board.files()

    assert (after["/slot"], after["/slot_new"]) == (b"a", b"b4")
    assert values["firmware_hash"] == hash_of(files, "a")
    assert values["safe_reason"] == 0


def test_a_program_that_never_says_hello_is_told_with_what_was_done_and_where_to_look(
        flashed, run, tmp_path, monkeypatch):
    _, files = flashed
    # It runs, but its line is silent: as far as the loader knows it is on trial.
    mute = rigs.small(tmp_path / "mute", 1)
    start = mute / "keeper" / "boards" / "start.py"
    start.write_text(f"import time\n{rigs.START}    while True:\n"
                     "        time.sleep_ms(10)\n")
    monkeypatch.setattr(running, "START_S", 3.0)
    with TerminalBoard(files) as board:
        with pytest.raises(FlashError) as failed:
            run(board, folder=mute)

    assert str(failed.value) == (
        "the program with its settings was written and read back (slot b), but the board did not"
        " say hello within 3 s of its restart: see `forebay watch`")


def test_a_program_that_ends_at_the_prompt_is_told_with_the_error_that_is_kept(
        flashed, run, tmp_path, monkeypatch):
    _, files = flashed
    bad = rigs.small(tmp_path / "bad", 1)
    start = bad / "keeper" / "boards" / "start.py"
    # It leaves for the prompt, as after an order.
    start.write_text(f"{rigs.START}    loader.keep_error(ValueError('no good'))\n")
    monkeypatch.setattr(running, "START_S", 3.0)
    with TerminalBoard(files) as board:
        with pytest.raises(FlashError, match="within 3 s .*; its last error: ValueError: no good"):
            run(board, folder=bad)


def test_a_board_of_before_is_brought_over_by_one_command(run, flashed, release):
    """Its old keeper leaves by order; its settings become those of the new slot."""
    _, files = flashed
    # A keeper that says hello, in a tree, with the loader of before.
    tree = {f"/a/{place}": path.read_bytes() for place, path in firmware.sources(release).items()}
    start = "/a/keeper/boards/start.py"
    tree[start] = (tree[start].replace(b'loader.folder + "/settings"', b'"/rig/settings"')
                   .replace(b'loader.folder + "/whole"', b'"/bench/whole"'))
    shared = {f"/rig/{name}": data for name, data in rigfiles.of_slot(load()).items()}
    bench = {"whole": b"- 00000000000000ff"}
    before = {**old_board.loader(), **tree, **shared, "/slot": b"a",
              BOARD_PATH: files[BOARD_PATH]}
    with TerminalBoard(before, bench) as board:
        report = run(board)
        after = board.files()
        values = live(board)

    assert report.pulled
    assert (report.slot, report.loader, report.notes) == ("b", ["/main.py"], [])
    assert values["firmware_hash"] == hash_of(after, "b")
    assert {path: after[path] for path in [*tree, *shared]} == {**tree, **shared}
    assert (after["/slot"], after["/slot_new"]) == (b"a", b"b1")
