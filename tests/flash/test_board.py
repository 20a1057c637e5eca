"""Flashing a board on its real interpreter, behind a terminal, from the first to the last byte."""

import hashlib
import json

import pytest

from forebay.dispatch import sending
from forebay.dispatch.keys import BOARD_PATH, ensure
from forebay.dispatch.sending import order
from forebay.flash import FlashError, Job, deploy, firmware, flash, rigfiles, running, slots
from forebay.flash.job import expected_hash
from forebay.flash.ordering import order_with
from forebay.flash.prompt import Prompt
from forebay.rig import load
from forebay.shelf import Shelf
from forebay.wire import Board
from keeper import modes, orders, settings
from tests.flash import old_board, rigs
from tests.flash.interpreter import TerminalBoard

LIGHT_MW, LIGHT_MIN = 600, 5
LOOKS = 100
BAD_SETTINGS = 1  # of keeper.keeper.SAFE_REASONS
BYTE_CODE = 0x306  # what this interpreter says of itself


@pytest.fixture(scope="module", autouse=True)
def patience():
    """A busy machine makes the interpreter slower than any board."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sending, "JUDGED_S", 60.0)
        yield


@pytest.fixture
def release(tmp_path):
    """A firmware folder whose start needs no pins."""
    return rigs.firmware(tmp_path / "release")


@pytest.fixture
def run(release, tmp_path):
    """Flashes the demo's rig onto a board; returns the report."""

    def flash_board(board, **changes):
        stages = []
        with Shelf(tmp_path / "shelf.sqlite") as shelf:
            job = Job(**{"port": board.port, "rig": load(), "shelf": shelf,
                         "order": order_with(ensure(load().rig_id)),
                         "key": ensure(load().rig_id).secret, "folder": release,
                         "tell": lambda stage, done, total: stages.append(stage), **changes})
            return flash(job)

    return flash_board


@pytest.fixture(scope="module")
def flashed(tmp_path_factory):
    """Files of a board that was flashed once and is healthy."""
    folder = tmp_path_factory.mktemp("flashed")
    with TerminalBoard({}) as board, Shelf(folder / "shelf.sqlite") as shelf:
        report = flash(Job(board.port, load(), shelf, order, key=ensure(load().rig_id).secret,
                           folder=rigs.firmware(folder / "release")))
        yield report, board.files()


def test_a_key_is_in_no_report(flashed):
    report, files = flashed
    said = json.dumps(report.as_json()) + repr(report) + "\n".join(report.lines())

    assert files[BOARD_PATH].hex() not in said
    assert repr(files[BOARD_PATH]) not in said


def test_every_key_of_the_document_is_described(flashed):
    page = (rigs.FIRMWARE.parent / "host" / "docs" / "json.md").read_text()
    part = page.split("## forebay flash --json")[1].split("\n## ")[0]

    assert [key for key in flashed[0].as_json() if f"`{key}`" not in part] == []


def live(board):
    with Board(board.port) as wire:
        return wire.live()


def test_a_board_without_files_new_or_wiped_is_flashed_at_once_and_runs(flashed, tmp_path):
    report, files = flashed

    program = firmware.program(BYTE_CODE, rigs.firmware(tmp_path / "same"))
    wanted = {**program.files, **rigfiles.of_slot(load())}
    assert report.slot == "a"
    assert report.files == report.copied == len(wanted) == 3
    assert report.firmware_digest == hashlib.sha256(program.files[slots.PROGRAM]).hexdigest()
    assert report.loader == ["/boot.py", "/main.py"]
    assert report.boot == 1
    assert report.safe_reason == 0
    assert report.pulled is None
    assert files[BOARD_PATH] == ensure(report.rig_id).secret
    for slot in "ab":
        assert {path: files[f"/{slot}/{path}"] for path in wanted} == wanted


def test_a_flash_without_a_change_copies_nothing_and_pulls_first(flashed, run, tmp_path):
    _, files = flashed
    with TerminalBoard(files) as board:
        report = run(board)
        after = board.files()

    assert not report.changed
    assert report.files == report.copied == report.bytes_B == 0
    assert report.pulled
    assert report.pulled["new_events"] > 0
    kept = {path: data for path, data in files.items() if path.startswith(("/a/", "/b/", "/rig/"))}
    assert {path: after[path] for path in kept} == kept
    with Shelf(tmp_path / "shelf.sqlite") as shelf:
        assert len(shelf.journal(report.rig_id).events) >= report.pulled["new_events"]


def test_of_a_changed_program_the_settings_stay_and_it_runs_on_trial(flashed, run, release):
    _, files = flashed
    changed = release / "keeper" / "boards" / "start.py"
    changed.write_text(changed.read_text().replace('SUN = "/bench/sun"', 'SUN = "/bench/light"'))
    with TerminalBoard(files) as board:
        report = run(board)
        after = board.files()

        assert live(board)["firmware_hash"] == expected_hash(firmware.program(BYTE_CODE, release))
    assert report.slot == "b"
    assert report.files == 1
    assert report.copied == 0  # the settings were in the other slot from the first flash on
    assert after["/slot"] == b"a"
    assert after["/slot_new"] == b"b1"
    assert slot_of(after, "a") == slot_of(files, "a")


def slot_of(files, slot):
    """Returns path -> contents of all files of a slot."""
    return {path: data for path, data in files.items() if path.startswith(f"/{slot}/")}


def hash_of(files, slot):
    """Returns the hash that a board publishes of the program of a slot."""
    return expected_hash(firmware.Program({slots.PROGRAM: files[f"/{slot}/{slots.PROGRAM}"]}))


def other_rig_text():
    """Returns a rig like the demo's but for a setting."""
    return load().toml_text.replace('light_least_off = "60 s"', 'light_least_off = "30 s"')


def test_changed_settings_go_on_trial_with_a_copy_of_the_program(flashed, run, tmp_path):
    _, files = flashed
    (tmp_path / "changed.toml").write_text(other_rig_text())
    changed = load(tmp_path / "changed.toml")
    with TerminalBoard(files) as board:
        report = run(board, rig=changed)
        values = live(board)
        after = board.files()

    assert (report.slot, report.files, report.notes) == ("b", 1, [])
    assert values["settings_crc"] == rigfiles.settings_crc(rigfiles.of_slot(changed))
    assert hash_of(after, "b") == hash_of(files, "a")
    assert slot_of(after, "a") == slot_of(files, "a")


def test_a_program_that_fails_is_given_up_and_the_old_one_runs_again(flashed, run, release):
    _, files = flashed
    bad = release / "keeper" / "boards" / "start.py"
    bad.write_text(bad.read_text() + "\nraise ValueError('no good')\n")
    with TerminalBoard(files) as board:
        with pytest.raises(FlashError, match="went back to the one it had") as failed:
            run(board)
        values = live(board)
        after = board.files()

    assert "its last error: ValueError: no good (File" in str(failed.value)
    assert "\n" not in str(failed.value)
    assert "/slot_new" not in after
    assert after["/slot"] == b"a"
    assert after["/last_error"].startswith(b"Traceback (most recent call last):")
    assert after["/last_error"].endswith(b"ValueError: no good\n")
    assert values["firmware_hash"] == hash_of(files, "a")
    assert values["safe_reason"] == 0


def test_a_flash_that_a_person_interrupts_leaves_the_rig_watched_by_the_old_program(
        flashed, run, release):
    _, files = flashed
    changed = release / "keeper" / "boards" / "start.py"
    changed.write_text(changed.read_text().replace('SUN = "/bench/sun"', 'SUN = "/bench/x"'))

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
    start.write_text("def run(loader):\n    raise ValueError('no good')\n")
    with TerminalBoard({}) as board:
        with monkeypatch.context() as patch:
            patch.setattr(settings, "VERSION", older)
            run(board, folder=old, key=None)
        with pytest.raises(FlashError, match="went back to the one it had"):
            run(board, folder=bad, key=None)
        values = live(board)
        files = board.files()

    assert files["/a/settings"][4] == older
    assert files["/b/settings"][4] == settings.VERSION
    assert values["safe_reason"] == 0


def test_a_program_that_never_says_hello_is_told_with_what_was_done_and_where_to_look(
        flashed, run, tmp_path, monkeypatch):
    _, files = flashed
    # It runs, but its line is silent: as far as the loader knows it is on trial.
    mute = rigs.small(tmp_path / "mute", 1)
    start = mute / "keeper" / "boards" / "start.py"
    start.write_text("import time\ndef run(loader):\n    while True:\n"
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
    start.write_text("def run(loader):\n    loader.keep_error(ValueError('no good'))\n")
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


def test_a_board_whose_settings_are_damaged_is_mended_by_one_flash(flashed, run):
    _, files = flashed
    with TerminalBoard({**files, "/a/settings": files["/a/settings"][:-1]}) as board:
        assert live(board)["safe_reason"] == BAD_SETTINGS
        report = run(board)

    assert report.slot == "b"  # it held the same from the first flash on
    assert report.files == 0
    assert report.pulled is None  # it could not say whose journal it holds
    assert report.safe_reason == 0


def eager_slot(files, rig):
    """Returns slot a with the settings of a rig, whole."""
    held = {slots.PROGRAM: files["/a/program.mpy"], **rigfiles.of_slot(rig)}
    whole = deploy.whole_text(firmware.hashes(held))
    return {f"/a/{path}": data for path, data in {**held, slots.WHOLE: whole}.items()}


def test_what_runs_is_left_alone_unless_told_to_stop(flashed, run, tmp_path):
    _, files = flashed
    text = load().toml_text.replace('light_least_off = "60 s"', 'light_least_off = "0 s"')
    (tmp_path / "eager.toml").write_text(text)
    eager = load(tmp_path / "eager.toml")
    with TerminalBoard({**files, **eager_slot(files, eager)}) as board:
        assert order(board.port, orders.LIGHT, LIGHT_MW, LIGHT_MIN) == orders.DONE
        assert any(live(board)["state"] == modes.RUNNING for _ in range(LOOKS))
        with pytest.raises(FlashError, match="something runs.*--stop"):
            run(board)
        assert live(board)["state"] == modes.RUNNING
        report = run(board, stop=True, rig=eager)

    assert not report.changed


def test_a_board_of_another_rig_is_not_flashed_by_mistake(flashed, run, tmp_path):
    _, files = flashed
    text = load().toml_text.replace("hillside allotment", "another slope")
    (tmp_path / "other.toml").write_text(text)
    with TerminalBoard(files) as board:
        with pytest.raises(FlashError, match="--other-rig"):
            run(board, rig=load(tmp_path / "other.toml"))
        assert live(board)["boot"] == 1 + flashed[0].boot


def test_somebody_elses_program_is_not_overwritten(run):
    blink = {"/main.py": b"import time\nwhile True:\n    time.sleep_ms(10)\n"}
    with TerminalBoard(blink) as board:
        with pytest.raises(FlashError, match="--loader"):
            run(board)
        assert board.files() == blink


def test_the_prompt_says_in_one_line_what_failed():
    with TerminalBoard({}) as board, Prompt(board.port) as prompt:
        with pytest.raises(FlashError, match="ZeroDivisionError") as failed:
            prompt.run("1 // 0")
        assert "\n" not in str(failed.value)
        assert prompt.run("print(7)") == ["7"]
