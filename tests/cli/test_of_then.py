"""Every command reads a time by the description of then: a tank and a pump that were exchanged.

The same played day lies three times on a shelf; between the first and the second the board was
flashed with another description.
"""

import csv
import json
import re
from datetime import UTC, date, datetime

import pytest

from forebay import cli
from forebay.balance import balance
from forebay.described import Descriptions, described
from forebay.exits import Exit
from forebay.expected.days import bounds_s, day_then, judged_days
from forebay.many.balancing import rows_of
from forebay.many.store import Store, Task
from forebay.rig import load, load_text
from forebay.shelf import Anchor, Shelf, store
from forebay.shelf.local import day_bounds_s, zone_at
from tests.expected.played import BEGIN_S, DAY_S, kept

DEMO = load()
EVERY_S = 2 * DAY_S
FIRST, LATER = date(2016, 2, 15), (date(2016, 2, 17), date(2016, 2, 19))
OLD_S, NEW_S = BEGIN_S - 10 * DAY_S, BEGIN_S + 1.5 * DAY_S
ZONE = zone_at(DEMO.site)


def changed(*pairs):
    """Returns the demo's rig with lines of its text changed."""
    text = DEMO.toml_text
    for old, new in pairs:
        text, count = re.subn(rf"(?m)^{old}", new, text, count=1)
        assert count
    return load_text(text, "anew")


WIDER = changed(('width = "1.0 m"', 'width = "1.2 m"'),
                ("shut_off_head = .*", 'shut_off_head = "19 m"'))
EAST = changed(('longitude = "-106.0 deg"', 'longitude = "15.0 deg"'))


def iso(utc_s):
    return datetime.fromtimestamp(utc_s, UTC).isoformat(timespec="seconds")


def made(path, *flashes):
    """Makes a shelf of the three days; flashes: (description, when [s since 1970 UTC])."""
    played = kept()
    with Shelf(path) as found, pytest.MonkeyPatch.context() as patch:
        for rig, when_s in flashes:
            patch.setattr(store, "_now", lambda at_s=when_s: iso(at_s))
            found.add_rig(DEMO.rig_id, DEMO.rig.name, rig.toml_text, rig.digest)
        for life in range(3):
            for stream, number, data in played.segments:
                found.put_segment(DEMO.rig_id, life, stream, number, data)
            found.add_anchor(DEMO.rig_id, Anchor(life, 1, 0, BEGIN_S + life * EVERY_S, 0.05))
    return path


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    """The shelf."""
    return made(tmp_path_factory.mktemp("shelf") / "s", (DEMO, OLD_S), (WIDER, NEW_S))


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Both descriptions as files."""
    folder = tmp_path_factory.mktemp("rigs")
    for name, rig in (("old", DEMO), ("new", WIDER)):
        (folder / f"{name}.toml").write_text(rig.toml_text)
    return folder


def printed(capsys, *arguments):
    """Returns what a command prints."""
    capsys.readouterr()
    code = cli.run(list(map(str, arguments)))
    out, err = capsys.readouterr()
    assert code == Exit.DONE, err
    return out


def said(capsys, *arguments):
    """Returns what a command says, in one line."""
    return " ".join(printed(capsys, *arguments).split())


def told(capsys, *arguments):
    """Returns the document that a command prints."""
    return json.loads(printed(capsys, *arguments, "--json"))


def reads(document):
    """Returns a balance without what tells by which description it was read."""
    return {key: value for key, value in document.items()
            if key not in ("description_utc", "notes")}


def test_each_row_of_a_balance_is_read_by_the_description_of_then(capsys, path, files):
    asked = ("balance", "--by", "day", "--shelf", path)
    by_then = told(capsys, *asked)
    assert "Each is read by the description of then" in " ".join(by_then["notes"])
    by_name = {name: told(capsys, *asked, "--rig", files / f"{name}.toml") for name in
               ("old", "new")}
    assert len(by_then["spans"]) == 6
    for place, one in enumerate(by_then["spans"]):
        name, other = ("old", "new") if one["begin_utc"] < iso(NEW_S) else ("new", "old")
        assert one["description_utc"] == iso(OLD_S if name == "old" else NEW_S)
        assert one["other_descriptions_utc"] == []
        assert one["balance"] == by_name[name]["spans"][place]["balance"]
        assert one["balance"] != by_name[other]["spans"][place]["balance"]
        assert by_name[name]["spans"][place]["description_utc"] is None
    # A tank a fifth wider holds a fifth more between the same two levels.
    gained = [by_name[name]["spans"][0]["balance"]["water_L"]["gained"]["value"]
              for name in ("old", "new")]
    assert gained[1] == pytest.approx(1.2 * gained[0], rel=0.01)


def test_a_balance_of_all_is_read_by_what_stood_for_most_of_it(capsys, path, files):
    asked = ("balance", "--shelf", path)
    found = told(capsys, *asked)
    assert found["description_utc"] == iso(NEW_S)
    assert "which stood for most of this time" in found["notes"][0]
    assert reads(found) == reads(told(capsys, *asked, "--rig", files / "new.toml"))
    first = told(capsys, *asked, "--to", FIRST.replace(day=16))
    assert first["description_utc"] == iso(OLD_S)
    assert "with which it was recorded" in first["notes"][0]
    assert "which stood for most of this time" in said(capsys, *asked)


def test_a_row_in_which_another_was_flashed_has_a_star(capsys, tmp_path):
    path = made(tmp_path / "s", (DEMO, OLD_S), (WIDER, BEGIN_S + DAY_S / 4))
    asked = ("balance", "--by", "day", "--shelf", path)
    text = said(capsys, *asked)
    assert re.findall(r"(\d\d Feb 2016)\* ", text) == ["15 Feb 2016"]
    assert "* another description was flashed in it" in text
    first, second = told(capsys, *asked)["spans"][:2]
    assert first["description_utc"] == second["description_utc"] == iso(BEGIN_S + DAY_S / 4)
    assert (first["other_descriptions_utc"], second["other_descriptions_utc"]) == (
        [iso(OLD_S)], [])


def test_a_day_is_judged_by_the_description_of_then(capsys, path, files):
    asked = ("expect", "--shelf", path, "--date", FIRST)
    found = told(capsys, *asked)
    assert found["description_utc"] == iso(OLD_S)
    assert "with which it was recorded" in found["notes"][0]
    by_name = {name: told(capsys, *asked, "--rig", files / f"{name}.toml")["figures"]
               for name in ("old", "new")}
    assert found["figures"] == by_name["old"] != by_name["new"]
    later = told(capsys, "expect", "--shelf", path, "--date", LATER[1])
    assert later["description_utc"] == iso(NEW_S)
    assert "Of the 2 days before 1 are not its usual" in " ".join(later["notes"])


def test_a_trend_reads_each_day_by_its_own_and_shows_where_another_begins(capsys, path, files):
    asked = ("trend", "--shelf", path)
    found = told(capsys, *asked)
    assert found["descriptions"] == [{"first_day": str(LATER[0]), "utc": iso(NEW_S)}]
    by_name = {name: told(capsys, *asked, "--rig", files / f"{name}.toml")
               for name in ("old", "new")}
    old, new, mine = ([one["value"] for one in document["figures"]["lift"]["days"]]
                      for document in (by_name["old"], by_name["new"], found))
    assert mine == [old[0], *new[1:]]
    assert abs(new[0] - old[0]) > 1.0   # percent: a stronger pump should have lifted more
    assert by_name["new"]["descriptions"] == []
    assert f"Another description was flashed: it reads the days from {LATER[0]} on." in said(
        capsys, *asked)


def test_a_review_and_what_stands_beside_it_are_of_then(capsys, path, tmp_path):
    page = tmp_path / "page.html"
    out = said(capsys, "review", "--shelf", path, "--date", FIRST, "--out", page)
    assert "with which it was recorded" in out
    assert "with which it was recorded" in page.read_text(encoding="utf-8")


def test_a_store_keeps_the_description_of_each_day(capsys, path, tmp_path, files):
    made_of = ("export", "--whole", "--shelf", path, "--out", tmp_path / "store")
    said(capsys, *made_of, "--rig", files / "new.toml")   # as if nothing else were known
    held = Store(tmp_path / "store")
    # What an export of before kept at a day that begins nothing is no more.
    (tmp_path / "store" / "rigs" / str(DEMO.rig_id) / "2016-02-16.toml").write_text(
        WIDER.toml_text)
    said(capsys, *made_of, "--force")
    months = held.rigs()[DEMO.rig_id]
    rows = [row for month in months for row in rows_of(str(held.folder),
                                                       Task(DEMO.rig_id, month))]
    days = [row["day"] for row in rows]
    assert sorted(one.name for one in (tmp_path / "store" / "rigs").rglob("*.toml")) == [
        f"{days[0]}.toml", f"{LATER[0]}.toml"]
    texts = {day: held.description(DEMO.rig_id, day).toml_text for day in days}
    assert texts == {day: (DEMO if day < str(LATER[0]) else WIDER).toml_text for day in days}
    with Shelf(path, create=False) as shelf:
        for row, rig in ((rows[0], DEMO), (rows[2], WIDER)):
            same = balance(shelf, rig, DEMO.rig_id, day_bounds_s(date.fromisoformat(row["day"]),
                                                                ZONE))
            gained = same.water["gained"]
            assert gained
            assert row["gained_L"] == pytest.approx(gained.value, abs=gained.u)


def test_a_store_marks_the_day_in_which_another_was_flashed(capsys, tmp_path, files):
    path = made(tmp_path / "s", (DEMO, OLD_S), (WIDER, BEGIN_S + DAY_S / 4))
    make = ("export", "--whole", "--shelf", path, "--out", tmp_path / "store")
    said(capsys, *make)
    compare = ("compare", tmp_path / "store", "--out", tmp_path / "rigs.html", "--force",
               "--table", tmp_path / "days.csv")
    (rig,) = told(capsys, *compare)["rigs"]
    assert rig["mixed_days"] == 1
    with open(tmp_path / "days.csv", encoding="utf-8", newline="") as file:
        marks = {row["day"]: row["other_descriptions_utc"] for row in csv.DictReader(file)}
    assert {day: mark for day, mark in marks.items() if mark} == {str(FIRST): iso(OLD_S)}
    assert len(marks) > 1
    assert "another description was flashed in 1 day" in " ".join(said(capsys, *compare).split())
    # By one that is named, all are read: no mark of before stays.
    said(capsys, *make, "--force", "--rig", files / "new.toml")
    assert told(capsys, *compare)["rigs"][0]["mixed_days"] == 0
    assert "another description" not in said(capsys, *compare)


def test_a_day_begins_with_the_sun_of_the_site_of_then(tmp_path):
    path = made(tmp_path / "s", (DEMO, OLD_S), (EAST, NEW_S))
    with Shelf(path, create=False) as shelf:
        rigs = described(shelf)
        first, later = day_then(FIRST, rigs), day_then(LATER[0], rigs)
        held = list(judged_days(shelf.journal(DEMO.rig_id), shelf.clock(DEMO.rig_id), rigs))
    assert (first.begin_s, first.end_s) == bounds_s(FIRST, DEMO)
    assert (later.begin_s, later.end_s) == bounds_s(LATER[0], EAST)
    assert held[0] == first
    assert [one.then.rig.site.longitude_deg for one in held[1:]] == [15.0] * (len(held) - 1)
    alone = Descriptions(DEMO.rig_id, DEMO)
    assert day_then(FIRST, alone)[:3] == (FIRST, *bounds_s(FIRST, DEMO))
