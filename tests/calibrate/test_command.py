"""`forebay calibrate` from its options to the file: whole or not at all, comments kept."""

import json

import pytest

from forebay import cli
from forebay.calibrate import work, writing
from forebay.exits import Exit
from forebay.rig import load
from forebay.shelf import Shelf
from tests.calibrate.practice import DEMO

ANSWERS = 'water_in_all = "1490 L"\nwater_in_all_u = "30 L"\n'
REMARK = "# what the sheet says, read twice"


@pytest.fixture
def at(tmp_path, monkeypatch, shelf_path, capsys):
    """Gives a folder with a description, answers and a copy of the shelf; and what runs there."""
    for name in ("XDG_STATE_HOME", "XDG_DATA_HOME"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    text = DEMO.toml_text.replace("\nshut_off_head", f"\n{REMARK}\nshut_off_head")
    (tmp_path / "rig.toml").write_text(
        text + '\n[assumed]\npump = ["shut_off_head", "rated_head"]\n')
    (tmp_path / "answers.toml").write_text(ANSWERS)
    (tmp_path / "shelf").write_bytes(shelf_path.read_bytes())

    def run(*arguments, answers="answers.toml"):
        capsys.readouterr()
        code = cli.run(["calibrate", *map(str, arguments), "--rig", str(tmp_path / "rig.toml"),
                        "--shelf", str(tmp_path / "shelf"),
                        *(["--answers", str(tmp_path / answers)] if answers else [])])
        return code, *capsys.readouterr()

    run.folder = tmp_path
    return run


def records(folder):
    with Shelf(folder / "shelf", create=False) as shelf:
        return shelf.records(writing.KIND, DEMO.rig_id)


def test_a_yes_writes_the_figures_and_leaves_every_comment(at):
    assert load(at.folder / "rig.toml").marked == {"pump.shut_off_head", "pump.rated_head"}
    code, out, err = at("pump", "--yes")
    assert code == Exit.DONE, err
    text = (at.folder / "rig.toml").read_text()
    after = load(at.folder / "rig.toml")
    assert after.marked == frozenset()
    assert after.pump.shut_off_head_m > 1.03 * DEMO.pump.shut_off_head_m
    assert REMARK in text
    # Nothing but the two figures and the mark has changed.
    before = DEMO.toml_text.splitlines()
    assert sum(one not in text.splitlines() for one in before) == 2
    assert f"\n  forebay flash {at.folder / 'rig.toml'}\n" in out
    assert max(len(one) for one in out.splitlines() if str(at.folder) not in one) <= 80
    one, = records(at.folder)
    assert one.document["digest_after"] == after.digest
    assert one.document["answers"]["water_in_all"] == 1.49
    listed = [one for one in at()[1].splitlines() if one.startswith("pump ")]
    assert " 20" in listed[0]


def test_a_dry_run_writes_nothing_and_the_next_run_asks_nothing_again(at):
    text = (at.folder / "rig.toml").read_text()
    code, out, _ = at("pump", "--dry-run", "--json")
    document = json.loads(out)
    assert (code, document["written"], document["record"]) == (Exit.DONE, None, None)
    assert (at.folder / "rig.toml").read_text() == text
    assert records(at.folder) == []
    (at.folder / "empty.toml").write_text("")
    code, out, _ = at("pump", "--yes", "--json", answers="empty.toml")
    again = json.loads(out)
    assert code == Exit.DONE
    assert again["figures"] == document["figures"]
    assert again["written"] == str(at.folder / "rig.toml")


@pytest.mark.parametrize(("said", "is_written"), [("yes", True), ("no", False),
                                                  ("skip not today", False)])
def test_the_person_says_whether_it_is_written(at, said, is_written):
    (at.folder / "answers.toml").write_text(f'{ANSWERS}write = "{said}"\n')
    text = (at.folder / "rig.toml").read_text()
    code, _, err = at("pump")
    assert code == Exit.DONE, err
    assert ((at.folder / "rig.toml").read_text() != text) == is_written
    assert len(records(at.folder)) == 1   # what was found is kept either way
    assert records(at.folder)[0].document["digest_after"] == (
        load(at.folder / "rig.toml").digest if is_written else None)


def test_another_file_may_be_written_and_a_page(at):
    text = (at.folder / "rig.toml").read_text()
    code, _, err = at("pump", "--yes", "--out", at.folder / "new.toml",
                      "--page", at.folder / "page.html")
    assert code == Exit.DONE, err
    assert (at.folder / "rig.toml").read_text() == text
    assert load(at.folder / "new.toml").pump.shut_off_head_m != DEMO.pump.shut_off_head_m
    page = (at.folder / "page.html").read_text()
    assert "<svg" in page
    assert "pump.shut_off_head" in page
    assert "<script" not in page


@pytest.mark.parametrize("arguments", [
    ("pmup",), ("flow", "--port", "/nowhere"), ("pump", "--date", "2001-01-01"),
    ("pump", "--from", "soon"), ("pump", "--page", "rig.toml/x")])
def test_what_cannot_be_is_told_in_one_line(at, arguments):
    text = (at.folder / "rig.toml").read_text()
    code, out, err = at(*arguments, "--yes")
    assert (code, out) == (Exit.INPUT, "")
    assert len([one for one in err.splitlines() if one.startswith("forebay:")]) == 1
    assert (at.folder / "rig.toml").read_text() == text


def test_answers_that_lack_one_say_which(at):
    (at.folder / "answers.toml").write_text('water_in_all = "1 m3"\n')
    code, _, err = at("pump", "--yes")
    assert code == Exit.INPUT
    assert "no answer to water_in_all_u" in err
    assert err.count("\n") == 1


class Cut(BaseException):
    """The power goes."""


@pytest.mark.parametrize("place", ["file", "behind file", "record", "behind record"])
def test_cut_off_at_the_write_the_same_command_comes_to_the_same_end(at, monkeypatch, place):
    code, out, _ = at("pump", "--dry-run", "--json")
    found = json.loads(out)["figures"]
    before = (at.folder / "rig.toml").read_text()
    from forebay.cli import calibrate as command

    write, add = command.write_whole, Shelf.add_record

    def cut(*_, **__):
        raise Cut

    def behind(does):
        def done(*arguments, **named):
            does(*arguments, **named)
            raise Cut
        return done

    with monkeypatch.context() as patch:
        if "file" in place:
            patch.setattr(command, "write_whole", cut if place == "file" else behind(write))
        else:
            patch.setattr(Shelf, "add_record", cut if place == "record" else behind(add))
        with pytest.raises(Cut):
            at("pump", "--yes")
    text = (at.folder / "rig.toml").read_text()
    assert (text == before) == (place == "file")
    load(at.folder / "rig.toml")   # whole, whichever it is
    code, out, err = at("pump", "--yes", "--json")
    assert code == Exit.DONE, err
    assert json.loads(out)["figures"] == found
    assert load(at.folder / "rig.toml").marked == frozenset()
    assert {one.document["figures"][0]["value"] for one in records(at.folder)} == {
        found[0]["value"]}


def test_every_key_of_the_document_is_described(at):
    from pathlib import Path

    described = (Path(__file__).parents[2] / "host/docs/json.md").read_text()
    part = described.split("## forebay calibrate WHAT --json")[1].split("\n## ")[0]
    for what in (("pump", "--dry-run"), ("tank", "--yes")):
        found = json.loads(at(*what, "--json")[1])
        rows = [found, *found["figures"], *found["fits"], *found["told"],
                *(one for fit in found["fits"] for one in fit["points"])]
        assert [key for row in rows for key in row if f"`{key}`" not in part] == []
    listed = json.loads(at("--json", answers=None)[1])
    rows = [listed, *listed["tasks"]]
    assert [key for row in rows for key in row if f"`{key}`" not in part] == []
    assert {one["task"] for one in listed["tasks"]} == set(work.TASKS)
