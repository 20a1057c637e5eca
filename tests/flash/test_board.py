"""Flashing a board on its real interpreter, behind a terminal, from the first to the last byte."""

import hashlib
import json

import pytest

from forebay.dispatch.keys import BOARD_PATH, ensure
from forebay.dispatch.sending import order
from forebay.flash import FlashError, firmware, looking, rigfiles, slots
from forebay.flash.job import expected_hash
from forebay.flash.prompt import Prompt
from forebay.rig import load
from forebay.shelf import Shelf
from keeper import modes
from keeper.operation import orders
from tests.flash import rigs
from tests.flash.flashing import BYTE_CODE, hash_of, live, slot_of
from tests.flash.interpreter import TerminalBoard

LIGHT_MW, LIGHT_MIN = 600, 5
LOOKS = 100
BAD_SETTINGS = 1  # of keeper.health.SAFE_REASONS


def test_a_key_is_in_no_report(flashed):
    report, files = flashed
    said = json.dumps(report.as_json()) + repr(report) + "\n".join(report.lines())

    assert files[BOARD_PATH].hex() not in said
    assert repr(files[BOARD_PATH]) not in said


def test_every_key_of_the_document_is_described(flashed):
    page = (rigs.FIRMWARE.parent / "host" / "docs" / "json.md").read_text()
    part = page.split("## forebay flash --json")[1].split("\n## ")[0]

    assert [key for key in flashed[0].as_json() if f"`{key}`" not in part] == []


def test_a_board_without_files_new_or_wiped_is_flashed_at_once_and_runs(flashed, tmp_path):
    report, files = flashed

    program = firmware.program(BYTE_CODE, rigs.firmware(tmp_path / "same"),
                               rigfiles.numbers_of(rigfiles.of_slot(load())))
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
    rigs.change(release)
    with TerminalBoard(files) as board:
        report = run(board)
        after = board.files()

        assert live(board)["firmware_hash"] == expected_hash(firmware.program(
            BYTE_CODE, release, rigfiles.numbers_of(rigfiles.of_slot(load()))))
    assert report.slot == "b"
    assert report.files == 1
    assert report.copied == 0  # the settings were in the other slot from the first flash on
    assert after["/slot"] == b"a"
    assert after["/slot_new"] == b"b1"
    assert slot_of(after, "a") == slot_of(files, "a")


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
    whole = looking.whole_text(firmware.hashes(held))
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
