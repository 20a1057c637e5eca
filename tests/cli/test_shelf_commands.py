"""`balance` and `review` from a shelf: documents, page, and which rig they speak of."""

import json
import re
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from forebay import cli, rig
from forebay.exits import Exit
from forebay.shelf import Anchor, Shelf
from keeper import settings
from tests.balance import rig as plant
from tests.shelf import encoder

ROOT = Path(__file__).resolve().parents[2]
DEMO_PATH = ROOT / "host" / "forebay" / "demo" / "hillside.toml"


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


@pytest.mark.parametrize(("zone", "told"), [
    ("Europe/Madrid", "14 Jul 2017 04:40 to 14 Jul 2017 08:13 (UTC+0200)"),
    (None, "13 Jul 2017 19:40 to 13 Jul 2017 23:13 (UTC-0700)")])
def test_local_times_are_those_of_the_rigs_own_zone(capsys, tmp_path, zone, told):
    # Used to be whole hours by longitude: every summer an hour off.
    text = DEMO_PATH.read_text()
    text = text.replace("[site]\n", f'[site]\nzone = "{zone}"\n') if zone else text
    demo = rig.load_text(text, "r")
    rig_id = demo.settings()[settings.index("rig_id")]
    path = tmp_path / "s"
    with Shelf(path) as shelf:
        plant.fill_shelf(shelf, plant.journal_of(plant.Errors(2)), rig_id)
        shelf.add_rig(rig_id, demo.rig.name, text, demo.digest)
    for command, *more in (("balance",), ("review", "--out", tmp_path / "p.html"), ("check",)):
        _, out, _ = run(capsys, command, "--shelf", path, *more)
        assert (told.split(" to ")[0] if command == "check" else told) in " ".join(out.split())
    code, out, _ = run(capsys, "export", "--shelf", path, "--out", tmp_path / "r.csv", "--date",
                       "2017-07-14" if zone else "2017-07-13", "--json")
    assert (code, json.loads(out)["lines"]) == (Exit.DONE, 1280)


def test_without_a_description_every_command_tells_utc(capsys, shelf_path, tmp_path):
    # The balance and the review once took the demo's zone for the rig's.
    for command, *more in (("balance",), ("review", "--out", tmp_path / "p.html"), ("check",),
                           ("export", "--out", tmp_path / "r.csv")):
        _, out, _ = run(capsys, command, "--shelf", shelf_path, *more)
        assert "14 Jul 2017 02:40" in out, command


def test_a_rig_that_the_shelf_lacks_is_one_line(capsys, shelf_path):
    code, _, err = run(capsys, "balance", "--shelf", shelf_path, "--rig", DEMO_PATH)
    assert code == Exit.INPUT
    assert "does not hold" in err
    assert err.count("\n") == 1


def test_a_balance_of_one_local_day_leaves_the_others_out(capsys, shelf_path):
    # The journal begins on 14 July 2017 at 02:40 UTC, in Denver on the 13th at 20:40.
    common = ["balance", "--shelf", shelf_path, "--json", "--zone", "America/Denver"]
    rows = {}
    for day in ("2017-07-13", "2017-07-14"):
        _, out, _ = run(capsys, *common, "--date", day)
        rows[day] = json.loads(out)["rows"]
    _, out, _ = run(capsys, *common)
    whole = json.loads(out)["rows"]
    # 3 h 20 min are left of the 13th, in rows of 10 s; the last of them ends at midnight.
    assert rows["2017-07-13"] == 12_000 // 10
    assert sum(rows.values()) == whole


@pytest.mark.parametrize("name", ["balance", "review"])
@pytest.mark.parametrize(("arguments", "said"), [
    (["--zone", "Mars/Base"], "no time zone 'Mars/Base'"), (["--zone", ""], "no time zone ''"),
    (["--date", "today"], "is not a day"),
    (["--from", "2017-07-15", "--to", "2017-07-14"], "is not before")])
def test_times_and_zones_that_are_none_are_one_line(
        capsys, shelf_path, tmp_path, monkeypatch, name, arguments, said):
    monkeypatch.chdir(tmp_path)
    code, out, err = run(capsys, name, "--shelf", shelf_path, *arguments)
    assert (code, out, err.count("\n")) == (Exit.INPUT, "", 1)
    assert said in err


def test_the_balance_says_how_certain_its_times_are(capsys, shelf_path):
    _, out, _ = run(capsys, "balance", "--shelf", shelf_path, "--json")
    # The contact is at the begin, known to sqrt(6) x 0.05 s; 12 800 s later 50 parts in a million.
    assert json.loads(out)["largest_bound_s"] == pytest.approx(6**0.5 * 0.05 + 12_800 * 50e-6,
                                                               rel=1e-4)


def test_a_start_that_no_pull_met_is_told_with_its_bound(capsys, shelf_path, tmp_path):
    with Shelf(shelf_path) as shelf:
        shelf.put_segment(7, 0, 1, 2, encoder.header(1, 2) + encoder.event(50, 2, 0, 1)
                          + encoder.event(51, 3, 0, 1))
        shelf.add_anchor(7, Anchor(0, 3, 0, 1.5e9 + 12_800 + 4 * 3600, 0.05))
    page = tmp_path / "page.html"
    code, out, _ = run(capsys, "review", "--shelf", shelf_path, "--zone", "UTC", "--out", page)
    said = " ".join(out.split())
    assert code == Exit.DONE
    # Boot 1 ended at 06:13:20, boot 3 began four hours later.
    assert "08:13 The board started (start 2). (Time +- 2 h.)" in said
    assert "No pull met 1 of 3 starts of the board: each is placed between its neighbours" in said
    assert "(Time \u00b1 2 h.)" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(("begin", "hours", "offsets"), [
    ("2026-03-28T23:00Z", 23, "UTC+0100, later UTC+0200"),
    ("2026-10-24T22:00Z", 25, "UTC+0200, later UTC+0100")])
def test_a_day_on_which_the_clocks_change_is_shown_with_its_hours(
        capsys, tmp_path, begin, hours, offsets):
    # Madrid's 29 March and 25 October 2026 (Directive 2000/84/EC), a row a minute.
    begin_s = datetime.fromisoformat(begin).timestamp()
    rows = [(1, 600 * (i + 1), 600, 0, 0, (1,) * 14) for i in range(48 * 60)]
    data = encoder.header(0, 1) + b"".join(
        encoder.block(at + 1, rows[at : at + 64]) for at in range(0, len(rows), 64))
    with Shelf(tmp_path / "s") as shelf:
        shelf.put_segment(7, 0, 0, 1, data)
        shelf.add_anchor(7, Anchor(0, 1, 0, begin_s, 0.0))
    page = tmp_path / "page.html"
    day = datetime.fromtimestamp(begin_s + 3600 * 12, ZoneInfo("Europe/Madrid")).date()
    code, out, _ = run(capsys, "review", "--shelf", tmp_path / "s", "--zone", "Europe/Madrid",
                       "--date", day, "--out", page)
    assert code == Exit.DONE
    assert f"rows {hours * 60}," in " ".join(out.split())
    assert offsets in " ".join(out.split())
    labels = re.findall(r'class="tick mid"[^>]*>(\d\d:\d\d)<', page.read_text())
    assert len(labels) == len(set(labels))
    assert "02:00" not in labels or hours == 25


@pytest.mark.parametrize("command", ["balance", "review", "export", "export --events"])
@pytest.mark.parametrize("span", [("--date", "2017-07-15"), ("--from", "2020-01-01")])
def test_a_span_without_data_is_refused_and_the_days_held_are_named(
        capsys, shelf_path, tmp_path, command, span):
    # It used to read as a night without light, a loss or a trip.  1.5e9 s is 14 July 2017.
    out_path = {"balance": (), "review": ("--out", tmp_path / "p.html"),
                "export": ("--out", tmp_path / "rows.csv"),
                "export --events": ("--events", "--out", tmp_path / "rows.csv")}[command]
    command = command.split()[0]
    code, out, err = run(capsys, command, "--shelf", shelf_path, "--zone", "UTC", *span, *out_path)
    assert (code, out, err.count("\n")) == (Exit.INPUT, "", 1)
    assert "days held: 2017-07-14\n" in err
    assert [path.name for path in tmp_path.iterdir()] == ["shelf.sqlite"]
    code, out, _ = run(capsys, command, "--shelf", shelf_path, "--zone", "UTC", "--date",
                       "2017-07-14", *out_path)
    assert code == Exit.DONE


@pytest.mark.parametrize("command", ["review", "check", "balance"])
def test_it_is_said_how_well_times_are_known_and_until_when(capsys, shelf_path, tmp_path, command):
    out_path = ("--out", tmp_path / "p.html") if command == "review" else ()
    _, out, _ = run(capsys, command, "--shelf", shelf_path, "--zone", "UTC", *out_path)
    said = " ".join(out.split())
    # 1.5e9 s is 14 July 2017, 02:40 UTC; 60 s of drift at 50 parts in a million are 13.9 days.
    assert "tied to a laptop's clock last on 14 Jul 2017 02:40, +- 0.12 s" in said
    assert "by 4.3 s a day. Within a minute until 27 Jul 2017, if no cut comes before" in said


def test_check_says_which_starts_no_laptop_was_near(capsys, shelf_path):
    with Shelf(shelf_path) as shelf:
        shelf.put_segment(7, 0, 1, 2, encoder.header(1, 2) + encoder.event(50, 2, 0, 1)
                          + encoder.event(51, 3, 0, 1))
        shelf.add_anchor(7, Anchor(0, 3, 0, 1.5e9 + 12_800 + 4 * 3600, 0.05))
    _, out, _ = run(capsys, "check", "--shelf", shelf_path, "--zone", "UTC")
    said = " ".join(out.split())
    assert "No pull met 1 of 3 starts of the board" in said
    assert "cut off with no laptop near; its times are +- 2 h" in said


def test_a_balance_span_by_span_is_a_table_that_fits_and_a_document_of_all(capsys, shelf_path):
    # From 2017-07-14 02:40 UTC for three and a half hours: a local midnight lies at 03:00.
    asked = ("balance", "--by", "day", "--shelf", shelf_path, "--zone", "America/Sao_Paulo")
    code, out, _ = run(capsys, *asked)
    assert code == Exit.DONE
    assert max(map(len, out.splitlines())) <= 80
    assert [line[:11] for line in out.splitlines() if " Jul 2017" in line] == [
        "13 Jul 2017", "14 Jul 2017"]
    code, document, _ = run(capsys, *asked, "--json")
    told = json.loads(document)
    _, whole, _ = run(capsys, "balance", "--shelf", shelf_path, "--json")
    total = sum(one["balance"]["energy_J"]["pump"]["value"] for one in told["spans"])
    assert total == pytest.approx(json.loads(whole)["energy_J"]["pump"]["value"], rel=1e-5)
    assert told["spans"][0]["end_utc"] == told["spans"][1]["begin_utc"] == (
        "2017-07-14T03:00:00+00:00")
    described = (ROOT / "host" / "docs" / "json.md").read_text()
    assert [key for key in (*told, *told["spans"][0]) if f"`{key}`" not in described] == []


def test_a_kind_of_span_that_holds_nothing_is_told_in_one_line(capsys, shelf_path):
    code, out, err = run(capsys, "balance", "--by", "day", "--shelf", shelf_path, "--date",
                         "2017-07-01")
    assert (code, out) == (Exit.INPUT, "")
    assert "days held: 2017-07-14" in err
    assert run(capsys, "balance", "--by", "week", "--shelf", shelf_path)[0] == Exit.INPUT


@pytest.mark.parametrize(("command", "named"), [
    ("balance", "--shelf"), ("review", "--shelf"), ("trend", "--shelf"), ("expect", "--shelf"),
    ("check", "--shelf"), ("note", "--shelf"), ("balance", "--rig")])
def test_a_file_given_as_a_plain_argument_is_told_its_option(capsys, shelf_path, command, named):
    """`balance SHELF` said no more than "unexpected extra argument"."""
    place = Path(rig.__file__).parents[1] / "demo/orchard.toml" if named == "--rig" else shelf_path
    code, out, err = run(capsys, command, place)
    assert (code, out, err.count("\n")) == (Exit.INPUT, "", 1)
    assert named in err
