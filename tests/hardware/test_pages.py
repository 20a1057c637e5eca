"""The pages of hardware/ and the board's pin table are what their data draws."""

import re

import pytest

from forebay.docs import hardware
from forebay.hardware import tables
from tests.hardware.tables import ROOT


@pytest.fixture(scope="module")
def drawn():
    """Each file as it is drawn now, by its place."""
    return hardware.drawn(ROOT)


def test_every_committed_page_is_in_step_with_its_data(drawn):
    stale = [name for name, body in drawn.items()
             if (ROOT / name).read_text(encoding="utf-8") != body]

    assert drawn
    assert stale == [], f"run {hardware.COMMAND}"


def test_every_table_of_the_folder_is_read_and_nothing_else_lies_there(drawn):
    # rglob would see what a test of another folder leaves behind: two levels are all there are.
    folder = ROOT / hardware.FOLDER
    files = {path.relative_to(folder).as_posix() for path in (*folder.glob("*.*"),
                                                              *folder.glob("*/*"))}
    read = {f"{name}.toml" for name in tables.NAMES}
    pages = {name.removeprefix(f"{hardware.FOLDER}/") for name in drawn
             if name.startswith(hardware.FOLDER)}

    assert files == read | pages | {"README.md"}


def test_the_readme_links_every_page(drawn):
    body = (ROOT / hardware.FOLDER / "README.md").read_text(encoding="utf-8")
    links = set(re.findall(r"\]\(([^)]+)\)", body))

    assert links == {name.rpartition("/")[2] for name in drawn if name.endswith(".md")}


def test_links_between_pages_lead_somewhere(drawn):
    for name, body in drawn.items():
        for link in re.findall(r"\]\(([^)#]+)\)", body) if name.endswith(".md") else ():
            assert (ROOT / hardware.FOLDER / link).is_file(), (name, link)


def test_check_says_which_file_is_not_current_and_drawing_mends_it(tmp_path, capsys, drawn):
    folder = tmp_path / hardware.FOLDER
    folder.mkdir()
    for path in (ROOT / hardware.FOLDER).glob("*.toml"):
        (folder / path.name).write_bytes(path.read_bytes())

    assert hardware.main(["--check"], tmp_path) == 1
    assert capsys.readouterr().err.count(f"is not current: run {hardware.COMMAND}\n") == len(drawn)
    assert hardware.main([], folder) == 0
    assert hardware.main(["--check"], tmp_path) == 0
    assert (tmp_path / hardware.PIN_TABLE).read_text(encoding="utf-8") == drawn[hardware.PIN_TABLE]


def test_a_wrong_call_is_told_what_to_do(tmp_path, capsys):
    assert hardware.main(["--nonsense"], ROOT) == 2
    assert capsys.readouterr().err == f"usage: {hardware.COMMAND} [--check]\n"
    assert hardware.main([], tmp_path) == 2
    assert "not in a clone of the repository" in capsys.readouterr().err
