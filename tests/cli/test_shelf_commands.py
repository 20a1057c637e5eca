"""`balance` and `review` from a shelf: documents, page, and which rig they speak of."""

import json
import re
from pathlib import Path

import pytest

from forebay import cli, rig
from forebay.exits import Exit
from forebay.shelf import Shelf
from keeper import settings
from tests.balance import rig as plant

ROOT = Path(__file__).resolve().parents[2]
DEMO_PATH = ROOT / "host" / "forebay" / "demo" / "rig.toml"


@pytest.fixture
def shelf_path(tmp_path):
    path = tmp_path / "shelf.sqlite"
    with Shelf(path) as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(2)))
    return path


def run(capsys, *arguments):
    """Returns (exit code, stdout, stderr) of a command line."""
    code = cli.run(list(map(str, arguments)))
    return code, *capsys.readouterr()


def test_the_balance_names_the_true_energies(capsys, shelf_path):
    code, out, _ = run(capsys, "balance", "--shelf", shelf_path, "--json")
    assert code == Exit.DONE
    energy = json.loads(out)["energy_J"]
    for name, true in plant.TRUE_ENERGY_J.items():
        assert abs(energy[name]["value"] - true) < 4 * energy[name]["u"]


def test_every_key_of_the_balance_is_described(capsys, shelf_path):
    _, out, _ = run(capsys, "balance", "--shelf", shelf_path, "--json")
    described = (ROOT / "host" / "docs" / "json.md").read_text()

    def keys(document):
        for key, value in document.items():
            yield key
            if isinstance(value, dict):
                yield from keys(value)

    assert [key for key in keys(json.loads(out)) if not re.search(rf"[`\"]{key}[`\"]", described)
            ] == []


def test_the_balance_in_text_says_which_rig_it_assumed(capsys, shelf_path):
    code, out, _ = run(capsys, "balance", "--shelf", shelf_path)
    assert code == Exit.DONE
    assert "no description of this rig" in " ".join(out.split())


def test_the_review_writes_its_page_and_prints_the_summary(capsys, shelf_path, tmp_path):
    page = tmp_path / "page.html"
    code, out, err = run(capsys, "review", "--shelf", shelf_path, "--out", page)
    assert code == Exit.DONE
    assert page.read_text().startswith("<!DOCTYPE html>")
    assert "Step efficiencies" in out
    assert str(page) in err


def test_a_page_that_cannot_be_written_is_one_line(capsys, shelf_path, tmp_path):
    code, out, err = run(capsys, "review", "--shelf", shelf_path, "--out", tmp_path / "no" / "p")
    assert (code, out) == (Exit.INPUT, "")
    assert "cannot write" in err
    assert err.count("\n") == 1


def test_a_page_replaces_a_page_and_nothing_else(capsys, shelf_path, tmp_path):
    kept = shelf_path.read_bytes()
    code, out, err = run(capsys, "review", "--shelf", shelf_path, "--out", shelf_path)
    assert (code, out) == (Exit.INPUT, "")
    assert "is no page: nothing is overwritten" in err
    assert shelf_path.read_bytes() == kept
    page = tmp_path / "page.html"
    for _ in range(2):
        assert run(capsys, "review", "--shelf", shelf_path, "--out", page)[0] == Exit.DONE


def test_the_description_kept_on_the_shelf_is_used(capsys, tmp_path):
    demo = rig.load()
    rig_id = demo.settings()[settings.index("rig_id")]
    text = DEMO_PATH.read_text()
    path = tmp_path / "s"
    with Shelf(path) as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(2)), rig_id)
        shelf.add_rig(rig_id, demo.rig.name, text, demo.digest)
    _, out, _ = run(capsys, "balance", "--shelf", path)
    assert out.startswith(demo.rig.name)
    assert "no description" not in out


def test_a_rig_that_the_shelf_lacks_is_one_line(capsys, shelf_path):
    code, _, err = run(capsys, "balance", "--shelf", shelf_path, "--rig", DEMO_PATH)
    assert code == Exit.INPUT
    assert "does not hold" in err
    assert err.count("\n") == 1
