"""`forebay plan`: its three forms, and one line for each thing that it cannot be asked."""

import json
import pathlib
import re

import pytest

from forebay import cli
from forebay import rig as rigs
from forebay.exits import Exit
from tests.plan import scene

ROOT = pathlib.Path(__file__).resolve().parents[2]
WISH = "3 h at 0.6 W, 9 nights of 10"
SWEEP = "turbine.nozzle_diameter=1.5 mm..3 mm"


@pytest.fixture
def run(capsys, tmp_path, monkeypatch):
    """Runs it in an empty folder; returns (exit code, stdout, stderr)."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        code = cli.run(["plan", *map(str, arguments)])
        return code, *capsys.readouterr()

    return run


def test_help_has_an_example_of_each_question(run):
    code, out, _ = run("--help")
    assert code == Exit.DONE
    example = out[out.index("Example:"):]
    for option in ("--for", "--sweep", "--check"):
        assert f"forebay plan my-rig.toml {option}" in example
    assert max(map(len, out.splitlines())) <= 80


def test_a_file_of_ones_own_is_planned_in_the_terminal_and_on_a_page(run, tmp_path):
    (tmp_path / "my-rig.toml").write_text(scene.text_of("orchard", rig__name="mill"))
    code, out, err = run("my-rig.toml", "--out", "plan.html")
    assert code == Exit.DONE
    assert out.startswith("Plan of mill\n")
    assert err == "page: plan.html\n"
    made = (tmp_path / "plan.html").read_text()
    assert made.startswith("<!DOCTYPE html>")
    assert "mill: plan" in made
    # A page is written anew over a page.
    assert run("my-rig.toml", "--for", WISH, "--out", "plan.html")[0] == Exit.DONE
    assert (tmp_path / "plan.html").read_text() != made


def test_us_units_change_what_is_shown_and_not_the_document(run):
    metric, us = (run("--sweep", SWEEP, "--units", name) for name in ("metric", "us"))
    assert "[mm]" in metric[1]
    assert "[in]" in us[1]
    one, other = (run("--sweep", SWEEP, "--units", name, "--json")[1] for name in ("metric", "us"))
    assert one == other


def keys_of(thing):
    """Returns every key in a document, however deep."""
    if isinstance(thing, list):
        return set().union(*map(keys_of, thing)) if thing else set()
    if not isinstance(thing, dict):
        return set()
    return set(thing).union(*map(keys_of, thing.values()))


@pytest.mark.parametrize("asked", [
    (), ("--for", WISH), ("--compare", "other.toml"), ("--sweep", SWEEP)])
def test_its_document_is_one_and_its_keys_are_described(run, tmp_path, asked):
    stated = scene.text_of(
        "orchard", support__tank_mass="12 kg", support__footprint_length="0.6 m",
        support__footprint_width="0.6 m", support__bearers=2, support__gust="30 m/s",
        cables__panel_length="10 m", cables__panel_section="2.5 mm2", cables__lamp_length="9 m",
        cables__lamp_section="1 mm2")
    (tmp_path / "other.toml").write_text(stated)
    code, out, err = run("other.toml", *asked, "--json")
    assert (code, err) == (Exit.DONE, "")
    page = (ROOT / "host" / "docs" / "json.md").read_text()
    section = page[page.index("## forebay plan --json"):].split("\n## ")[0]
    assert [key for key in keys_of(json.loads(out)) if f"`{key}`" not in section] == []


def test_what_is_described_is_in_a_document(run):
    page = (ROOT / "host" / "docs" / "json.md").read_text()
    section = page[page.index("## forebay plan --json"):].split("\n## ")[0].split("\nWith ")[0]
    described = set(re.findall(r"`([a-z]\w*_[A-Z]\w*|[a-z]+_[a-z]+)`", section))
    there = keys_of(json.loads(run("--json")[1]))
    stated = {"pressure_Pa", "bearer_N", "wind_N", "panel_drop_V", "lamp_drop_V"}
    assert len(described) > 40
    assert described - there == stated


REFUSED = {
    "no wish": (("--for", ""), "--for ''"),
    "half a wish": (("--for", "3 h"), '"3 h at 0.6 W, 9 nights of 10"'),
    "escape in a wish": (("--for", "\x1b[31m3 h"), "such as"),
    "no sweep": (("--sweep", ""), "section.key=from..to"),
    "unknown key": (("--sweep", "turbine.bore=1 mm..2 mm"), "no key of a rig"),
    "beyond its range": (("--sweep", "turbine.nozzle_diameter=1 mm..9 m"), "0.5 mm to 100 mm"),
    "two questions": (("--for", WISH, "--sweep", SWEEP), "one of them at a time"),
    "no other rig": (("--compare", "none.toml"), "none.toml: cannot be read"),
    "other rig is no rig": (("--compare", "garbage"), "garbage: this is not TOML"),
    "too clear": (("--clearness", "0.9"), "0.15<=x<=0.7"),
    "not a clearness": (("--clearness", "nan"), "must be a number"),
    "clearness in words": (("--clearness", "half"), "not a valid float"),
    "no sun": (("--sun", "none.csv"), "none.csv: cannot read the sun file"),
    "sun is no sun": (("--sun", "garbage"), "garbage"),
    "station without sun": (("--station", "38,-106,300"), "--sun"),
    "unknown units": (("--units", "imperial"), "'metric', 'us'"),
    "over a file that is no page": (("--out", "garbage"), "nothing is overwritten"),
    "into no folder": (("--out", "none/plan.html"), "cannot write none/plan.html"),
    "no rig": (("none.toml",), "none.toml: cannot be read"),
    "rig is no rig": (("garbage",), "garbage: this is not TOML"),
    "a rig and a demo": (("mine.toml", "--demo", "orchard"), "not both"),
    "no such demo": (("--demo", "mill"), "'hillside', 'orchard'"),
}


@pytest.mark.parametrize("what", REFUSED)
def test_what_cannot_be_is_one_line_and_changes_nothing(run, tmp_path, what):
    garbage = b"\x00\x01 garbage\n"
    (tmp_path / "garbage").write_bytes(garbage)
    (tmp_path / "mine.toml").write_text(scene.text_of("orchard"))
    arguments, said = REFUSED[what]
    code, out, err = run(*arguments)
    assert (code, out) == (Exit.INPUT, "")
    assert err.startswith("forebay: ")
    assert said in err
    assert err.count("\n") == 1
    assert "\x1b" not in err
    assert "Traceback" not in err
    assert (tmp_path / "garbage").read_bytes() == garbage
    assert len(list(tmp_path.iterdir())) == 2


def test_a_rig_with_faults_is_a_line_for_each(run, tmp_path):
    (tmp_path / "my-rig.toml").write_text(scene.text_of(
        "orchard", upper__height="-1 m", pump__rated_head="10 kg"))
    code, out, err = run("my-rig.toml")
    assert (code, out) == (Exit.INPUT, "")
    assert "upper.height" in err
    assert "pump.rated_head" in err
    assert all(line.startswith("forebay: my-rig.toml: ") for line in err.splitlines())


def test_a_check_tells_of_a_sound_file_what_is_assumed_and_of_a_faulty_one_each_fault(
        run, tmp_path):
    (tmp_path / "sound.toml").write_text(scene.text_of("orchard", rig__name="mill"))
    code, out, _ = run("sound.toml", "--check")
    assert code == Exit.DONE
    assert out.startswith("mill: sound. ")
    assert max(map(len, out.splitlines())) <= 80
    (tmp_path / "faulty.toml").write_text(scene.text_of(
        "orchard", upper__height="-1 m", pump__rated_head="10 kg"))
    code, out, err = run("faulty.toml", "--check")
    assert (code, out, len(err.splitlines())) == (Exit.INPUT, "", 2)
    code, out, _ = run("faulty.toml", "--check", "--json")
    found = json.loads(out)
    assert code == Exit.INPUT
    assert (found["sound"], len(found["faults"])) == (False, 2)


def test_what_a_wish_takes_is_written_as_a_sound_rig_and_over_nothing(run, tmp_path):
    written = tmp_path / "larger.toml"
    code, out, _ = run("--for", "4 h at 1 W, 8 nights of 10", "--write", written)
    assert code == Exit.DONE
    assert "What it takes" in out
    assert run(written, "--check")[0] == Exit.DONE
    # What was changed is nobody's measurement.
    rig = rigs.load(written)
    assert rig.panel.power_W != rigs.load().panel.power_W
    assert "panel.power" in rig.marked
    before = written.read_bytes()
    code, _, err = run("--for", WISH, "--write", written)
    assert (code, err.count("\n"), written.read_bytes()) == (Exit.INPUT, 1, before)
    assert "--write" in err


@pytest.mark.parametrize("asked", [(), ("--for", "4 h at 9 W, 8 nights of 10")])
def test_without_a_proposal_nothing_is_written(run, tmp_path, asked):
    assert run(*asked, "--write", tmp_path / "none.toml")[0] == Exit.INPUT
    assert not (tmp_path / "none.toml").exists()
