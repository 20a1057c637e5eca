"""`forebay explain`: a page in a file, lines or one document on stdout, nothing overwritten."""

import json
import re
from pathlib import Path

import pytest

from forebay import cli
from forebay import rig as rigs
from forebay.exits import Exit

ROOT = Path(__file__).resolve().parents[2]


def run(capsys, *arguments):
    """Returns (exit code, stdout, stderr) of a command line."""
    code = cli.run(["explain", *map(str, arguments)])
    return code, *capsys.readouterr()


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_without_anything_it_writes_the_page_of_the_first_demo(capsys, folder):
    code, out, err = run(capsys)
    assert code == Exit.DONE
    assert err == "page: explain.html\n"
    assert "hillside allotment" in (folder / "explain.html").read_text(encoding="utf-8")
    assert out.startswith("hillside allotment\n")
    assert max(map(len, out.splitlines())) <= 80


def test_a_rig_of_ones_own_goes_where_it_is_told(capsys, folder):
    text = rigs.load(demo="orchard").toml_text.replace("orchard shed", "north terrace")
    (folder / "mine.toml").write_text(text, encoding="utf-8")
    code, out, _ = run(capsys, "mine.toml", "--out", "told.html")
    assert code == Exit.DONE
    assert "north terrace" in (folder / "told.html").read_text(encoding="utf-8")
    assert not (folder / "explain.html").exists()


def test_the_same_rig_gives_the_same_page_byte_for_byte(capsys, folder):
    for name in ("one.html", "two.html"):
        assert run(capsys, "--demo", "orchard", "--out", name)[0] == Exit.DONE
    assert (folder / "one.html").read_bytes() == (folder / "two.html").read_bytes()


def test_json_is_one_document_with_documented_keys_and_writes_no_page(capsys, folder):
    code, out, err = run(capsys, "--json")
    document = json.loads(out)
    assert (code, err) == (Exit.DONE, "")
    assert list(folder.iterdir()) == []
    described = (ROOT / "host" / "docs" / "json.md").read_text(encoding="utf-8")
    part = described.split("## forebay explain --json")[1].split("\n## ")[0]
    known = set(re.findall(r"`([\w-]+)`", part))
    rows = [document, document["night"], document["up"][0], document["valve_full"][0]]
    assert {key for row in rows for key in row} <= known


def test_units_of_the_united_states_change_page_and_lines_but_not_the_json(capsys, folder):
    code, out, _ = run(capsys, "--units", "us")
    assert code == Exit.DONE
    for text in (out, (folder / "explain.html").read_text(encoding="utf-8")):
        assert re.search(r"\d\sft", text)
        assert re.search(r"\d\sUS\sgal", text)
    assert run(capsys, "--json", "--units", "us") == run(capsys, "--json")


def test_a_file_that_is_no_page_is_not_overwritten(capsys, folder):
    (folder / "rig.toml").write_text("kept", encoding="utf-8")
    code, _, err = run(capsys, "--out", "rig.toml")
    assert code == Exit.INPUT
    assert "nothing is overwritten" in err
    assert (folder / "rig.toml").read_text(encoding="utf-8") == "kept"


@pytest.mark.parametrize(("arguments", "why"), [
    (("none.toml",), "cannot be read"), (("--demo", "valley"), "valley"),
    (("none.toml", "--demo", "orchard"), "not both")])
def test_what_cannot_be_used_is_told_in_one_line(arguments, why, capsys, folder):
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (Exit.INPUT, "")
    assert err.count("\n") == 1
    assert why in err
    assert list(folder.iterdir()) == []


def test_every_fault_of_a_rig_is_told_and_no_page_written(capsys, folder):
    text = rigs.load().toml_text.replace('"9.0 m"', '"-9 m"').replace("cells = 48", "cells = 0")
    (folder / "bad.toml").write_text(text, encoding="utf-8")
    code, out, err = run(capsys, "bad.toml")
    assert (code, out) == (Exit.INPUT, "")
    assert "upper.base_height" in err
    assert "panel.cells" in err
    assert not (folder / "explain.html").exists()
