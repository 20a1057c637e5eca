"""Sheets for other rigs than the demo, made without hand work; a margin that fails is loud."""

import json
import re

import pytest

from forebay import cli
from forebay.docs.sheets import cabling, circuits, heights, parts
from forebay.docs.sheets import rig as sheets
from forebay.exits import Exit
from forebay.hardware import changing, rules, writing
from forebay.hardware.build import Build
from forebay.rig import load, load_text
from forebay.rig.schema import KEYS
from tests.hardware.tables import ROOT, build, named, sheets_of

# Rigs of `forebay new`, by their flags: what it proposes can be built.
NEW = {
    "drum of 200 L": ("--tank", "200 L", "--head", "5.5 m"),
    "5 m3": ("--tank", "5 m3", "--head", "8 m"),
    "40 m of head": ("--tank", "1000 L", "--head", "40 m"),
    "1.5 m of head": ("--tank", "1000 L", "--head", "1.5 m"),
}
FIGURES = set(build().figures)
RIGS = ("hillside", "orchard", "lead", *NEW)


@pytest.fixture(scope="module")
def rigs(tmp_path_factory):
    """Every rig by its name."""
    folder = tmp_path_factory.mktemp("rigs")
    found = {name: named(name).rig for name in ("hillside", "orchard", "lead")}
    for name, flags in NEW.items():
        path = folder / f"{name}.toml".replace(" ", "-")
        assert cli.run(["new", name, *flags, "--yes", "--out", str(path)]) == Exit.DONE
        found[name] = load(path)
    return found


@pytest.mark.parametrize("name", RIGS)
def test_every_sheet_of_a_rig_is_made_and_its_hardware_stands_it(rigs, name):
    one = Build.of(rigs[name])
    files = sheets.files(one) if name in NEW else sheets_of(name)

    assert rules.check(one) == []
    assert {"parts.md", "wiring.md", "cables.md", "heights.md", "circuit-panel.svg"} <= set(files)
    assert "TOO" not in files["parts.md"] + files["cables.md"]
    assert all(rigs[name].plant()["rig.name"] in body[:1000] for body in files.values())


def thin(text):
    """A description with a clamp and a lamps' lead that do not stand the rig."""
    found = text.replace("[panel]\n", '[cables]\nlamp_section = "0.5 mm2"\n\n[panel]\n', 1)
    return re.sub(r'clamp_power = "[^"]*"', 'clamp_power = "10 W"', found, count=1)


def test_what_its_hardware_would_not_stand_is_said_on_its_sheets(rigs):
    one = Build.of(load_text(thin(rigs["5 m3"].toml_text), "thin"))

    assert {finding.rule for finding in rules.check(one)} == {"cable too thin",
                                                              "too little margin"}
    assert "TOO LITTLE MARGIN: do not build it so" in parts.page(one)
    assert "TOO MUCH" in cabling.page(one)


# By proportion from the modest rig, whatever its tank and its head: no part beyond its rating.
@pytest.mark.parametrize(("litres", "head"), [
    ("30 L", "1 m"), ("30 L", "30 m"), ("220 L", "3 m"), ("1000 L", "20 m"), ("3000 L", "1 m"),
    ("10000 L", "4 m"), ("10000 L", "50 m")])
def test_a_new_rig_of_any_size_can_be_built(tmp_path, litres, head):
    path = tmp_path / "rig.toml"

    assert cli.run(["new", "any", "--tank", litres, "--head", head, "--yes", "--out",
                    str(path)]) == Exit.DONE
    assert rules.check(Build.of(load(path))) == []


def test_a_finding_names_what_to_change_by_a_key_of_the_rig():
    keys = set(KEYS)
    for figure, change in changing.CHANGES.items():
        named = set(re.findall(r"[a-z]+\.[a-z_]+", change))

        assert figure in FIGURES
        assert named <= keys, figure


def test_the_seven_rigs_are_there():
    assert len(RIGS) == 7


def test_a_rig_with_few_instruments_has_their_parts_and_no_others():
    few = build("orchard").netlist

    assert {part.kind for part in few} & {"flow meter", "level sensor", "potentiometer"} == set()
    assert [part.monitors for part in few.of_kind("monitor")] == ["lamp"]
    assert [part.id for part in few.of_kind("thermometer")] == ["TT1"]
    assert "U6" not in few.parts  # no line: it is read by USB
    assert "B1a" in few.parts  # over-full, in the pump's lead: no board needed
    assert "LSHH" not in " ".join(few.nets)


def test_a_rig_with_few_instruments_is_half_the_work():
    assert len(build("orchard").netlist.parts) < 0.6 * len(build().netlist.parts)
    assert len(build("orchard").cables) < len(build().cables)


def test_a_pin_without_an_instrument_is_said_to_be_unused():
    page = circuits.page(build("orchard"))

    assert "| GP6 | `flow_up` | not used by this rig | - |" in page
    assert "| GP8 | `contact_71h_up` | R21, C21 |" in page


def test_heights_of_a_drum_follow_from_its_diameter():
    # 196 L in a drum of 0.58 m: 0.196 / (pi / 4 x 0.58^2) = 741.8 mm.
    marks = {mark.what: mark.level_m for mark in heights.marks(build("orchard").values, "upper")}

    assert marks["LSH-UP: upper tank full"] == pytest.approx(0.7418, abs=1e-4)
    assert marks["LSHH-UP: over-full"] > marks["LSH-UP: upper tank full"]


def test_heights_come_in_the_order_in_which_water_meets_them():
    levels = [mark.what.partition(":")[0] for mark in heights.marks(build().values, "upper")]

    assert levels == ["floor, outlet", "LSL-UP", "LSH-UP", "LSHH-UP", "overflow's edge",
                      "end of the rising main, in air", "rim"]


def rows_text(name, heading):
    """Return a part's paragraph on a rig's sheet, in one line."""
    body = sheets_of(name)["parts.md"].split(f"## {heading}\n")[1]
    return " ".join(body.split("## ")[0].split())


def test_a_parts_paragraph_asks_for_what_this_rig_has():
    assert "begin to draw at 2.4 V" in rows_text("orchard", "path lamps")
    assert "begin to draw at 9 V" in rows_text("hillside", "path lamps")
    assert "One contact is enough" in rows_text("orchard", "over-full float LSHH-UP")
    assert "two poles" in rows_text("orchard", "local stop")
    assert "three poles" in rows_text("hillside", "local stop")
    assert "8 s from shut to open" in rows_text("orchard", "valve, motorised")


@pytest.mark.parametrize("name", ["hillside", "orchard"])
def test_the_supervised_loop_is_on_the_sheet_of_a_rig_that_has_it(name):
    assert "supervised loop" not in sheets_of(name)["parts.md"]
    assert "## The supervised loop" in parts.page(named("supervised"))


def test_a_lead_battery_is_not_said_to_cut_itself_out_and_is_held_at_its_float_voltage():
    lead, lithium = (rows_text(name, "buffer battery and charger")
                     for name in ("lead", "hillside"))

    assert "no cut-out of its own" in lead
    assert "27-SUP" in lead
    # Float voltage of a lead battery of 12 V at 25 degC: 13.5 to 13.8 V; common practice, no
    # source.
    held = re.search(r"U1 \(([\d.]+) V held, ([\d.]+) V", lead)
    assert held is not None
    assert 13.5 <= float(held[1]) <= 13.8 < float(held[2])
    assert "has its own cut-out" in lithium
    assert " held, " not in lithium


def test_a_main_that_ends_below_the_rim_is_cautioned_of_and_drawn_below_it():
    # Hillside: 9.0 m + 1.1 m of tank, the main's end at 10.06 m. Orchard: 8.85 m and 8.90 m.
    assert "40 mm below the rim" in " ".join(sheets_of("hillside")["heights.md"].split())
    assert "below the rim" not in sheets_of("orchard")["heights.md"]
    assert "at 1060, below the rim" in sheets_of("hillside")["plumbing.svg"]
    assert "over the rim" in sheets_of("orchard")["plumbing.svg"]
    assert sheets_of("orchard")["plumbing.svg"].count(", not fitted") == 2


def run(capsys, *arguments):
    """Return (exit code, stdout, stderr) of the command."""
    code = cli.run(["hardware", *arguments])
    told = capsys.readouterr()
    return code, told.out, told.err


def test_the_demos_sheets_are_what_the_command_writes(capsys, tmp_path):
    code, out, _ = run(capsys, "--out", str(tmp_path / "sheets"))
    written = {path.name: path.read_text(encoding="utf-8")
               for path in (tmp_path / "sheets").iterdir()}

    assert code == Exit.DONE
    assert "hillside allotment: " in out
    assert max(map(len, out.splitlines())) <= 80
    assert len(written) >= 12
    for name, body in written.items():
        assert body == (ROOT / "hardware" / name).read_text(encoding="utf-8"), name


@pytest.mark.parametrize("name", ["orchard shed", "hill", "hillside allotment 2"])
def test_another_rigs_sheets_are_never_overwritten(tmp_path, name):
    writing.write(sheets_of("hillside"), "hillside allotment", tmp_path)

    with pytest.raises(writing.SheetError, match=f"no sheet of '{name}': nothing is overwritten"):
        writing.write(sheets_of("orchard"), name, tmp_path)
    for file, body in sheets_of("hillside").items():
        assert (tmp_path / file).read_text(encoding="utf-8") == body
    writing.write(sheets_of("hillside"), "hillside allotment", tmp_path)


def test_a_page_of_a_drawing_that_is_no_more_is_taken_away_and_nothing_else(tmp_path):
    writing.write(sheets_of("hillside"), "hillside allotment", tmp_path)
    (tmp_path / "notes-1.svg").write_text("my own", encoding="utf-8")
    fewer = {file: body for file, body in sheets_of("hillside").items()
             if file != "circuit-panel-3.svg"}
    writing.write(fewer, "hillside allotment", tmp_path)

    assert {path.name for path in tmp_path.iterdir()} == {*fewer, "notes-1.svg"}


def test_a_rig_whose_name_is_markup_may_be_drawn_anew(tmp_path):
    text = load(demo="orchard").toml_text.replace("orchard shed", "mill <3 & me, 2 of 3")
    one = Build.of(load_text(text, "odd"))
    files = {name: make(one) for name, make in sheets.makers(one).items()
             if name in ("parts.md", "box.svg", "circuit-buses.svg", "strips-2.svg")}

    for _ in range(2):
        writing.write(files, one.name, tmp_path)


def test_a_margin_that_fails_is_told_on_stderr_and_by_the_exit_code(capsys, tmp_path, rigs):
    path = tmp_path / "big.toml"
    path.write_text(thin(rigs["5 m3"].toml_text), encoding="utf-8")
    code, out, err = run(capsys, str(path))

    assert code == Exit.INPUT
    assert "forebay: 5 m3: do not build it so\n" in err
    assert "forebay: too little margin: clamp: " in err
    assert "take a higher generator.clamp_power\n" in err
    assert "forebay: cable too thin: " in err
    assert "None of it has been built" in out


def test_a_panel_beyond_its_monitor_is_refused_by_name(capsys, tmp_path):
    path = tmp_path / "high.toml"
    path.write_text(load().toml_text.replace('open_circuit_voltage = "29 V"',
                                             'open_circuit_voltage = "38 V"'), encoding="utf-8")
    code, _, err = run(capsys, str(path))

    assert code == Exit.INPUT
    assert "panel.open_circuit_voltage" in err
    assert "stands 36 V" in err


def test_a_panel_without_a_monitor_may_be_higher_and_its_parts_follow(tmp_path):
    text = load(demo="orchard").toml_text
    for old, new in (("21.6 V", "43.2 V"), ("17.4 V", "34.8 V"), ('"18 V"', '"36 V"'),
                     ('"50 W"', '"100 W"')):
        assert old in text
        text = text.replace(old, new, 1)
    one = Build.of(load_text(text, "high"))

    assert one.figures["panel_open_cold_V"] == pytest.approx(2 * 24.516)
    assert rules.check(one) == []
    assert one.netlist["C1"].rated["V"] == 63.0
    assert one.netlist["V1"].rated["off"] == 51.0


def test_json_is_one_document_with_documented_keys(capsys):
    code, out, err = run(capsys, "--demo", "orchard", "--json")
    document = json.loads(out)
    described = (ROOT / "host" / "docs" / "json.md").read_text(encoding="utf-8")
    part = described.split("## forebay hardware --json")[1].split("\n## ")[0]
    known = set(re.findall(r"`([\w-]+)`", part))

    assert (code, err) == (Exit.DONE, "")
    assert document["findings"] == []
    assert {key for row in (document, document["parts"][0], document["margins"][0])
            for key in row} <= known
    assert set(rules.Finding._fields) <= known


def test_a_rig_and_a_demo_together_are_refused(capsys):
    code, _, err = run(capsys, "rig.toml", "--demo", "orchard")

    assert code == Exit.INPUT
    assert "not both" in err
