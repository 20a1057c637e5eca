"""`expect`, `trend`, `export --whole` and `compare`: from a shelf to text, document and page."""

import json
import shutil
from pathlib import Path

import pytest

from forebay import cli
from forebay.exits import Exit
from forebay.rig import load_text
from forebay.shelf import Anchor, Rehearsed, Shelf
from tests.expected.played import BEGIN_S, kept

PAGE = (Path(__file__).parents[2] / "host/docs/json.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """The path of a shelf of a played day."""
    path, played = tmp_path_factory.mktemp("shelf") / "shelf.sqlite", kept()
    rig_id = played.rig.rig_id
    with Shelf(path) as found:
        found.add_rig(rig_id, played.rig.rig.name, played.rig.toml_text, played.rig.digest)
        for stream, number, data in played.segments:
            found.put_segment(rig_id, 0, stream, number, data)
        found.add_anchor(rig_id, Anchor(0, 1, 0, BEGIN_S, 0.05))
    return path


@pytest.fixture
def run(capsys, shelf):
    """Gives a function that runs a command: (code, stdout, stderr)."""
    def done(*arguments):
        capsys.readouterr()
        code = cli.run([str(one).replace("SHELF", str(shelf)) for one in arguments])
        return code, *capsys.readouterr()

    return done


def undescribed(heading, keys):
    """Returns the keys that a part of the page of documents does not name."""
    part = PAGE.split(f"## forebay {heading} --json")[1].split("\n## ")[0]
    return [key for key in keys if f"`{key}`" not in part]


def test_expect_says_the_verdict_and_every_key_is_described(run):
    code, out, _ = run("expect", "--shelf", "SHELF")
    assert code == Exit.DONE
    assert "The day was as expected." in out
    found = json.loads(run("expect", "--shelf", "SHELF", "--json")[1])
    figure = found["figures"]["up_L"]
    assert undescribed("expect", [*found, *found["figures"], *figure]) == []
    assert figure["expected"]["u"] > 0.0


@pytest.fixture(scope="module")
def sunless(tmp_path_factory, shelf):
    """The path of that shelf as a rehearsal of a rig whose panel no meter reads."""
    path = tmp_path_factory.mktemp("sunless") / "shelf.sqlite"
    shutil.copy(shelf, path)
    text = kept().rig.toml_text.replace(
        "[sensors]", '[sensors]\npanel_meter = "absent"\npump_meter = "absent"', 1)
    text = text.replace("[night]", '[night]\nbegins = "order"', 1)
    rig = load_text(text, "sunless")
    with Shelf(path) as found:
        rig_id = found.only_rig()
        found.add_rig(rig_id, rig.rig.name, rig.toml_text, rig.digest)
        found.note_rehearsal(rig_id, Rehearsed("2016-01-01", "sun.csv", "hillside", 1))
    return path


@pytest.mark.parametrize("command", ["trend", "expect"])
def test_of_a_rehearsal_trend_and_expect_say_so_first(run, sunless, command):
    """Only the review did."""
    code, out, err = run(command, "--shelf", sunless)
    assert code == Exit.DONE, err
    assert out.startswith("REHEARSAL of the simulated day 2016-01-01: nobody measured these")
    found = json.loads(run(command, "--shelf", sunless, "--json")[1])
    assert len(found["rehearsed"]) == 1
    assert "REHEARSAL" not in run(command, "--shelf", "SHELF")[1]


def test_where_nothing_tells_the_sun_it_is_said_what_lacks_and_what_to_do(run, sunless):
    """It said "Sun by nothing ... worked out by nothing"."""
    said = " ".join(run("expect", "--shelf", sunless)[1].split())
    assert "no meter reads the panel. Name a file of it: `forebay expect --sun FILE`" in said
    assert "by nothing" not in said


def test_a_day_that_is_not_held_is_refused_with_those_that_are(run):
    code, out, err = run("expect", "--shelf", "SHELF", "--date", "2016-02-14")

    assert (code, out, err.count("\n")) == (Exit.INPUT, "", 1)
    assert "2016-02-15" in err or "2016-02-16" in err


@pytest.mark.parametrize("wrong", [
    ("expect", "--date", "yesterday"), ("expect", "--sun", "not-there.csv"),
    ("trend", "--from", "x"), ("trend", "--from", "2020-01-01")])
def test_what_cannot_be_used_is_one_line_and_code_2(run, wrong):
    code, out, err = run(*wrong, "--shelf", "SHELF")

    assert (code, out, err.count("\n")) == (Exit.INPUT, "", 1)


def test_trend_says_what_it_follows_and_every_key_is_described(run):
    code, out, _ = run("trend", "--shelf", "SHELF")
    assert code == Exit.DONE
    assert all(len(line) <= 80 for line in out.splitlines())
    assert "lifted a watt hour" in out
    found = json.loads(run("trend", "--shelf", "SHELF", "--json")[1])
    figure = found["figures"]["lift"]
    assert undescribed("trend", [*found, *found["figures"], *figure, *figure["days"][0]]) == []


def test_a_store_is_made_once_and_compared(run, tmp_path):
    store, page = tmp_path / "store", tmp_path / "rigs.html"
    make = ("export", "--whole", "--shelf", "SHELF", "--out", store)
    assert run(*make)[0] == Exit.DONE
    assert run(*make)[0] == Exit.INPUT     # nothing is overwritten
    code, out, _ = run("compare", store, "--out", page, "--json")
    assert code == Exit.DONE
    (rig,) = json.loads(out)["rigs"]
    assert undescribed("compare", ["rigs", *rig, *rig["figures"][0]]) == []
    assert kept().rig.rig.name in page.read_text(encoding="utf-8")


def test_compare_writes_a_page_only_where_one_is_named_and_over_nothing(
        run, tmp_path, monkeypatch):
    """It left a rigs.html in whatever folder it was called in, over what was there."""
    monkeypatch.chdir(tmp_path)
    assert run("export", "--whole", "--shelf", "SHELF", "--out", "store")[0] == Exit.DONE
    code, out, err = run("compare", "store")
    assert (code, err) == (Exit.DONE, "")
    assert [one.name for one in tmp_path.iterdir()] == ["store"]
    assert out.startswith("1 rig, ")
    assert run("compare", "store", "--out", "rigs.html")[2] == "page: rigs.html\n"
    for name, option in (("rigs.html", "--out"), ("days.csv", "--table")):
        Path(name).write_text("<!doctype html>mine", encoding="utf-8")
        code, _, err = run("compare", "store", option, name)
        assert (code, err.count("\n")) == (Exit.INPUT, 1)
        assert "nothing is overwritten without --force" in err
        assert Path(name).read_text(encoding="utf-8") == "<!doctype html>mine"
        assert run("compare", "store", option, name, "--force")[0] == Exit.DONE
        assert "mine" not in Path(name).read_text(encoding="utf-8")


def test_compare_refuses_what_is_no_store(run, tmp_path):
    code, out, err = run("compare", tmp_path, "--out", tmp_path / "rigs.html")

    assert (code, out, err.count("\n")) == (Exit.INPUT, "", 1)
    assert "--whole" in err


def test_whole_goes_without_what_it_holds_anyway(run, tmp_path):
    code, _, err = run("export", "--whole", "--events", "--shelf", "SHELF",
                       "--out", tmp_path / "s")

    assert code == Exit.INPUT
    assert "--whole" in err
