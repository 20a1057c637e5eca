"""`forebay new`: a rig's own file is sound at once, and nothing is overwritten."""

import pytest

from forebay import cli
from forebay.exits import Exit
from forebay.rig import load, remaining


@pytest.fixture
def run(capsys, tmp_path, monkeypatch):
    """Runs it in an empty folder; returns (exit code, stdout, stderr)."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        code = cli.run(["new", *map(str, arguments)])
        return code, *capsys.readouterr()

    return run


def test_the_file_is_a_rig_of_that_name_with_the_fewest_instruments(run, tmp_path):
    code, out, err = run("North  terrace, 2")
    path = tmp_path / "north-terrace-2.toml"
    assert (code, err) == (Exit.DONE, "")
    rig, orchard = load(path), load(demo="orchard")
    assert rig.rig.name == "North  terrace, 2"
    assert rig.rig_id != orchard.rig_id
    assert {**rig.plant(), "rig.name": ""} == {**orchard.plant(), "rig.name": ""}
    # Every line of the packaged file but its name, so every comment too.
    lines = set(path.read_text("utf-8").splitlines())
    assert len(set(orchard.toml_text.splitlines()) - lines) == 1
    assert "forebay rehearse north-terrace-2.toml" in out
    assert f" {len(remaining.left_to_hardware(rig.plant()))} kinds of hazard" in out
    assert max(map(len, out.splitlines())) <= 80


def test_it_may_begin_from_the_full_one(run, tmp_path):
    code, out, _ = run("mill", "--demo", "hillside", "--out", "mine.toml")
    assert code == Exit.DONE
    assert remaining.absent(load(tmp_path / "mine.toml").plant()) == []
    assert "hazard" not in out


def test_nothing_is_overwritten(run, tmp_path):
    run("mill")
    before = (tmp_path / "mill.toml").read_bytes()
    code, out, err = run("mill")
    assert (code, out) == (Exit.INPUT, "")
    assert err == ("forebay: mill.toml is there: nothing is overwritten, name another file with"
                   " --out\n")
    assert (tmp_path / "mill.toml").read_bytes() == before


@pytest.mark.parametrize("name", ["", "a\nb", 'a"b\\c' + "x" * 100, "\x1b[2J"])
def test_a_name_that_no_rig_can_have_leaves_no_file(run, tmp_path, name):
    code, out, err = run(name)
    assert (code, out) == (Exit.INPUT, "")
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ['the "upper" one', "C:\\mill", "Über dem Bach"])
def test_a_name_is_written_so_that_it_reads_back(run, tmp_path, name):
    code, _, _ = run(name, "--out", "rig.toml")
    assert code == Exit.DONE
    assert load(tmp_path / "rig.toml").rig.name == name


def test_a_folder_that_is_not_there_is_one_line(run):
    code, _, err = run("mill", "--out", "none/mill.toml")
    assert code == Exit.INPUT
    assert err.startswith("forebay: cannot write none")
    assert err.count("\n") == 1
