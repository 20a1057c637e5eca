"""Sheets for other rigs than the demo, made without hand work; a margin that fails is loud."""

import json
import re

import pytest

from forebay import cli
from forebay.docs.sheets import circuits, heights
from forebay.docs.sheets import rig as sheets
from forebay.exits import Exit
from forebay.hardware import rules
from forebay.hardware.build import Build
from forebay.rig import load, load_text
from tests.hardware.tables import ROOT, build

# Rigs of `forebay new`, by their flags; what their hardware would not stand is told, not hidden.
NEW = {
    "drum of 200 L": ("--tank", "200 L", "--head", "5.5 m"),
    "5 m3": ("--tank", "5 m3", "--head", "8 m"),
    "40 m of head": ("--tank", "1000 L", "--head", "40 m"),
    "1.5 m of head": ("--tank", "1000 L", "--head", "1.5 m"),
}
RIGS = ("hillside", "orchard", "lead battery", *NEW)
TOLD = {  # of rules, by rig: what its parts and leads would not stand
    "5 m3": {"cable too thin", "too little margin"},
    "40 m of head": {"cable too thin"},
    "1.5 m of head": {"too little margin"},
}


@pytest.fixture(scope="module")
def rigs(tmp_path_factory):
    """Every rig by its name."""
    folder = tmp_path_factory.mktemp("rigs")
    found = {name: load(demo=name) for name in ("hillside", "orchard")}
    lead = load().toml_text.replace('[supply]\nvoltage = "12.8 V"', '[supply]\nvoltage = "12 V"')
    found["lead battery"] = load_text(lead, "lead")
    for name, flags in NEW.items():
        path = folder / f"{name}.toml".replace(" ", "-")
        assert cli.run(["new", name, *flags, "--yes", "--out", str(path)]) == Exit.DONE
        found[name] = load(path)
    return found


@pytest.mark.parametrize("name", RIGS)
def test_every_sheet_of_a_rig_is_made_and_what_it_would_not_stand_is_told(rigs, name):
    one = Build.of(rigs[name])
    found = {finding.rule for finding in rules.check(one)}
    files = sheets.files(one)

    assert found == TOLD.get(name, set())
    assert {"parts.md", "wiring.md", "cables.md", "heights.md", "circuit-panel.svg"} <= set(files)
    assert ("TOO LITTLE MARGIN" in files["parts.md"]) == ("too little margin" in found)
    assert ("TOO MUCH" in files["cables.md"]) == ("cable too thin" in found)
    assert all(rigs[name].plant()["rig.name"] in body[:1000] for body in files.values())


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


def test_another_rigs_sheets_are_never_overwritten(capsys, tmp_path):
    folder = str(tmp_path / "sheets")
    assert run(capsys, "--out", folder)[0] == Exit.DONE
    code, _, err = run(capsys, "--demo", "orchard", "--out", folder)

    assert code == Exit.INPUT
    assert "no sheet of 'orchard shed': nothing is overwritten" in err
    assert run(capsys, "--out", folder)[0] == Exit.DONE


def test_a_margin_that_fails_is_told_on_stderr_and_by_the_exit_code(capsys, tmp_path, rigs):
    path = tmp_path / "big.toml"
    path.write_text(rigs["5 m3"].toml_text, encoding="utf-8")
    code, out, err = run(capsys, str(path), "--out", str(tmp_path / "sheets"))

    assert code == Exit.INPUT
    assert "forebay: 5 m3: do not build it so\n" in err
    assert "forebay: too little margin: penstock and rising main: " in err
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
