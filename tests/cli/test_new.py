"""`forebay new`: a rig's own file is sound at once, says what is assumed, overwrites nothing."""

import os
import pty
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forebay import cli
from forebay.errors import InputError
from forebay.exits import Exit
from forebay.rig import beginning, instruments, load, recipes, remaining
from forebay.rig.beginning.questions import QUESTIONS, Tank

ROOT = Path(__file__).resolve().parents[2]
MODEST = {"lamp_meter", "motor_temperature", "full_float", "lower_empty_float"}
# A rig of one's own: a 200 L drum, 5.5 m of head, a panel of 36 cells, a 15 V brushed pump.
DRUM = ("--tank", "200 L", "--tank-diameter", "0.58 m", "--head", "5.5 m", "--panel-power",
        "50 W", "--panel-cells", "36", "--pump-voltage", "15 V")


@pytest.fixture
def run(capsys, tmp_path, monkeypatch):
    """Runs it in an empty folder; returns (exit code, stdout, stderr)."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        code = cli.run(["new", *map(str, arguments)])
        return code, *capsys.readouterr()

    return run


def refused(run, tmp_path, *arguments):
    """Returns what it says that writes nothing."""
    before = set(tmp_path.iterdir())
    code, out, err = run(*arguments)
    assert (code, out) == (Exit.INPUT, "")
    assert set(tmp_path.iterdir()) == before
    return err


def test_without_an_answer_the_file_is_the_packaged_rig_of_that_name_all_of_it_assumed(
        run, tmp_path):
    code, out, err = run("North  terrace, 2")
    path = tmp_path / "north-terrace-2.toml"
    assert (code, err) == (Exit.DONE, "")
    rig, orchard = load(path), load(demo="orchard")
    assert rig.rig.name == "North  terrace, 2"
    assert rig.rig_id != orchard.rig_id
    assert {**rig.plant(), "rig.name": ""} == {**orchard.plant(), "rig.name": ""}
    # Every line of the packaged file but its name and its word on itself, so every comment too.
    lines = set(path.read_text("utf-8").splitlines())
    assert len(set(orchard.toml_text.splitlines()) - lines) == 2
    assert rig.assumed == set(rig.figures)
    assert "next: forebay plan north-terrace-2.toml, then " in out
    assert f"assumed: {len(rig.figures)} of its {len(rig.figures)} figures" in out
    assert f" {len(remaining.left_to_hardware(rig.plant()))} kinds of hazard" in out
    assert max(map(len, out.splitlines())) <= 80


def test_it_may_begin_from_the_full_one(run, tmp_path):
    code, out, _ = run("mill", "--demo", "hillside", "--out", "mine.toml")
    assert code == Exit.DONE
    rig = load(tmp_path / "mine.toml")
    assert remaining.absent(rig.plant()) == []
    assert rig.assumed == set(rig.figures)
    assert "hazard" not in out


def test_a_rig_of_ones_own_holds_what_was_stated_and_marks_the_rest(run, tmp_path):
    code, _, err = run("drum", *DRUM)
    rig = load(tmp_path / "drum.toml")
    assert (code, err) == (Exit.DONE, "")
    assert (rig.upper.base_height_m, rig.upper.diameter_m) == (5.5, 0.58)
    # By hand: 0.200 m3 over pi / 4 x 0.58 m squared.
    assert rig.upper.height_m == pytest.approx(0.757, abs=5e-4)
    assert (rig.panel.power_W, rig.panel.cells, rig.pump.rated_voltage_V) == (50.0, 36, 15.0)
    stated = {"upper.base_height", "upper.diameter", "panel.power", "panel.cells",
              "pump.rated_voltage"}
    assert set(rig.figures) - rig.assumed == stated
    assert instruments.fitted(rig.sensors) == MODEST


@pytest.mark.parametrize(("flag", "value", "line"), [
    ("--pump-flow", "4 L/min", 'rated_flow = "4 L/min"'),
    ("--pump-flow", "4.12345 L/min", 'rated_flow = "4.12345 L/min"'),
    ("--latitude", "47.123456 deg", 'latitude = "47.123456 deg"'),
    ("--tank", "0.58125 m x 0.76 m", 'diameter = "0.58125 m"'),
    ("--steps", "77.777 mW, 123.456 mW", 'setpoint = "123.456 mW"'),
    ("--steps", "77.777 mW, 123.456 mW", 'steps = ["77.777 mW", "123.456 mW"]'),
])
def test_what_was_stated_is_written_as_it_was_stated(run, tmp_path, flag, value, line):
    run("drum")
    for more in ((), ("--from", "drum.toml")):
        run("mine", *more, flag, value)
        path = tmp_path / "mine.toml"
        assert f"\n{line}" in path.read_text("utf-8")  # a comment may follow
        path.unlink()


def test_the_pages_that_it_names_are_there(run, tmp_path):
    _, out, _ = run("drum", *DRUM)
    told = out + (tmp_path / "drum.toml").read_text("utf-8")
    pages = set(re.findall(r"[\w/]*docs/\w+\.md", told))
    assert pages
    assert [page for page in pages if not (ROOT / page).is_file()] == []


def test_each_assumed_figure_has_its_recipe_beside_it(run, tmp_path):
    run("drum", *DRUM)
    text = (tmp_path / "drum.toml").read_text("utf-8")
    assert max(map(len, text.splitlines())) <= 88
    section, said, found = "", [], {}
    for line in text.splitlines():
        if line.startswith("#"):
            said.append(line[2:])
        elif match := re.match(r"\[(\w+)\]|(\w+) =", line):
            section = match[1] or section
            found[f"{section}.{match[2]}"] = " ".join(said)
            said = []
        else:
            said = []
    rig = load(tmp_path / "drum.toml")
    for place in rig.marked:
        assert recipes.ROWS[place].recipe in found[place]
    assert "Assumed" not in found["upper.diameter"]


def test_it_plays_a_day_and_a_night(tmp_path):
    def forebay(*arguments):
        return subprocess.run([sys.executable, "-m", "forebay", *arguments], cwd=tmp_path,
                              stdin=subprocess.DEVNULL, capture_output=True, text=True,
                              timeout=600, check=True).stdout

    forebay("new", "drum", *DRUM)
    told = forebay("rehearse", "drum.toml", "--sun", "clear")
    rig = load(tmp_path / "drum.toml")
    assert f"{len(rig.assumed)} of {len(rig.figures)} figures of the rig are assumed" in told
    assert re.search(r"Light [3-9]\.\d h", told)  # the aim: an evening
    assert "trips 0" in told
    assert "Upper tank full" in told


@pytest.mark.parametrize(("arguments", "told"), [
    (("--pump-shut-off-head", "6 m"), "The pump cannot lift: its shut-off head is 6 m at"),
    (("--panel-power", "10 W", "--pump-power", "100 W"), "The panel does not drive the pump: "),
    (("--panel-power", "280 W", "--pump-voltage", "12 V"), "The pump takes 7.47 A at"),
    (("--panel-power", "300 W", "--pump-voltage", "6 V", "--with", "pump_meter"),
     "The pump takes 16 A at"),
    (("--steps", "9 W", "--penstock-bore", "16 mm"), "Light of 9 W is out of reach: "),
    (("--lamp-voltage", "24 V"), "Lamps of 24 V ask for a generator whose clamp"),
    (("--lamp-voltage", "12 V"), "It cannot be built so: current monitors: "),
    (("--head", "75 m"), "It cannot be built so: penstock and rising main: "),
    (("--penstock-bore", "4 mm", "--steps", "0.3 W"), "wider --penstock-bore"),
    (("--lift", "3 m"), "--lift 3 m: must be at least 8.99"),
    (("--head", "0.1 m"), "--head '0.1 m': must be 0.5 m to 200 m"),
    (("--head", "5,5 m"), "--head '5,5 m': has a comma"),
    (("--steps", "0.2, x"), "--steps '0.2, x': not a number"),
    (("--tank", "a drum"), "--tank 'a drum': must be litres with"),
    (("--tank", "200"), "--tank '200': must be litres with their unit"),
    (("--tank", "1 m x 1 m x 1 m x 1 m"), "must be litres, diameter x height, or length x"),
    (("--tank", "0.5 m x 1 m", "--tank-diameter", "0.4 m"), "--tank-diameter goes with litres"),
    (("--panel-cells", "36.5"), "--panel-cells '36.5': must be a whole number"),
    (("--without", "full_float"), "sensors.full_float"),
    (("--demo", "orchard", "--head", "5 m"), "--demo copies a packaged rig as it is"),
    (("--from", "none.toml"), "none.toml: cannot be read"),
])
def test_what_cannot_be_is_one_line_that_says_what_to_change_and_no_file(
        run, tmp_path, arguments, told):
    err = refused(run, tmp_path, "x", *arguments)
    assert told in err
    assert err.count("\n") == 1
    assert len(err) <= 210


def test_what_works_but_is_hardly_meant_is_said_beside_the_file(run, tmp_path):
    code, _, err = run("x", "--tank", "100 L", "--steps", "2 W")
    assert code == Exit.DONE
    assert " ".join(err.split()).startswith("A full tank gives light of 2 W for ")
    assert load(tmp_path / "x.toml").lamps.steps_W == [2.0]


def test_instruments_come_and_go_by_name_with_what_they_need(run, tmp_path):
    every = [one.name for one in instruments.INSTRUMENTS]
    run("all", *[word for name in every for word in ("--with", name)])
    rig = load(tmp_path / "all.toml")
    assert remaining.absent(rig.plant()) == []
    assert {"sensors.pulses_per_litre", "sensors.panel_range", "board.motor_serial_low"
            } <= rig.marked
    run("few", "--with", "pump_meter", "--without", "motor_temperature")
    held = instruments.fitted(load(tmp_path / "few.toml").sensors)
    assert held == (MODEST | {"pump_meter"}) - {"motor_temperature"}


@pytest.fixture
def mine(run, tmp_path):
    """Returns the path of a rig of one's own, of which some is measured."""
    run("drum", *DRUM)
    path = tmp_path / "drum.toml"
    text = path.read_text("utf-8")
    text = text.replace('rated_head = "7.381 m"', 'rated_head = "7.0 m"  # at the fence')
    text = text.replace('"rated_head", ', "")
    path.write_text(f"# my own words\n{text}", "utf-8")
    assert load(path).pump.rated_head_m == 7.0
    return path


def test_a_rig_carried_over_keeps_figures_marks_and_comments(run, tmp_path, mine):
    code, _, _ = run("drum 2", "--from", mine)
    old, new = load(mine), load(tmp_path / "drum-2.toml")
    assert code == Exit.DONE
    assert {**new.plant(), "rig.name": ""} == {**old.plant(), "rig.name": ""}
    assert (new.rig.name, new.marked) == ("drum 2", old.marked)
    assert "pump.rated_head" not in new.marked
    assert "# my own words" in new.toml_text
    assert "# at the fence" in new.toml_text
    lines = set(new.toml_text.splitlines())
    assert [one for one in old.toml_text.splitlines() if one not in lines] == ['name = "drum"']


def test_flags_go_on_top_of_what_is_carried_over_and_take_marks_away(run, tmp_path, mine):
    code, _, _ = run("drum 2", "--from", mine, "--pump-flow", "3 L/min", "--head", "6 m",
                     "--with", "level", "--with", "pump_meter", "--without", "motor_temperature")
    old, new = load(mine), load(tmp_path / "drum-2.toml")
    assert code == Exit.DONE
    assert new.pump.rated_flow_m3_s == pytest.approx(3e-3 / 60)
    # The inlet keeps its height over the outlet, and stays assumed.
    assert new.upper.inlet_height_m == pytest.approx(old.upper.inlet_height_m + 0.5)
    assert "upper.inlet_height" in new.marked
    assert old.marked - new.marked == {"pump.rated_flow"}
    assert new.marked - old.marked == {"sensors.pump_range"}
    assert instruments.fitted(new.sensors) == (
        MODEST | {"level", "pump_meter"}) - {"motor_temperature"}


def test_another_tank_takes_its_floats_with_it(run, tmp_path, mine):
    code, _, err = run("box", "--from", mine, "--tank", "0.6 m x 0.8 m x 0.7 m")
    old, new = load(mine), load(tmp_path / "box.toml")
    assert (code, err) == (Exit.DONE, "")
    assert (new.upper.shape, new.upper.length_m, new.upper.diameter_m) == (
        "rectangular", 0.6, None)
    # By hand: 0.336 m3 in the place of 0.200.
    assert new.upper.full_volume_m3 == pytest.approx(old.upper.full_volume_m3 * 1.68, rel=2e-3)
    assert "upper.full_volume" in new.marked
    assert not new.marked & {"upper.length", "upper.width", "upper.height", "upper.shape"}


def test_sizes_of_a_tank_and_its_diameter_are_not_both_taken(run, tmp_path, mine):
    told = refused(run, tmp_path, "x", "--from", mine, "--tank", "0.6 m x 0.7 m",
                   "--tank-diameter", "0.5 m")
    assert "--tank-diameter goes with litres alone" in told


def test_a_rig_that_does_not_load_is_not_carried_over(run, tmp_path, mine):
    mine.write_text(mine.read_text("utf-8").replace("cells = 36", "cells = 0"), "utf-8")
    assert "drum.toml: panel.cells = 0: " in refused(run, tmp_path, "x", "--from", "drum.toml")


def test_nothing_is_overwritten(run, tmp_path):
    run("mill")
    before = (tmp_path / "mill.toml").read_bytes()
    for more in ((), DRUM, ("--from", "mill.toml")):
        code, out, err = run("mill", *more)
        assert (code, out) == (Exit.INPUT, "")
        assert err == ("forebay: mill.toml is there: nothing is overwritten, name another file"
                       " with --out\n")
    assert (tmp_path / "mill.toml").read_bytes() == before


@pytest.mark.parametrize("more", [(), DRUM])
@pytest.mark.parametrize("name", ["", "a\nb", 'a"b\\c' + "x" * 100, "\x1b[2J"])
def test_a_name_that_no_rig_can_have_leaves_no_file(run, tmp_path, name, more):
    assert refused(run, tmp_path, name, *more).count("\n") == 1


@pytest.mark.parametrize("more", [(), DRUM])
@pytest.mark.parametrize("name", ['the "upper" one', "C:\\mill", "Über dem Bach"])
def test_a_name_is_written_so_that_it_reads_back(run, tmp_path, name, more):
    code, _, _ = run(name, "--out", "rig.toml", *more)
    assert code == Exit.DONE
    assert load(tmp_path / "rig.toml").rig.name == name


def test_a_folder_that_is_not_there_is_one_line(run):
    code, _, err = run("mill", "--out", "none/mill.toml")
    assert code == Exit.INPUT
    assert err.startswith("forebay: cannot write none")
    assert err.count("\n") == 1


def on_a_terminal(tmp_path, lines, *arguments):
    """Returns (exit code, all that a terminal shows) of a run with these lines typed."""
    ours, theirs = pty.openpty()
    with subprocess.Popen([sys.executable, "-m", "forebay", "new", *arguments], cwd=tmp_path,
                          stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                          text=True) as process:
        os.close(theirs)
        os.write(ours, "".join(f"{line}\n" for line in lines).encode())
        out, err = process.communicate(timeout=120)
        os.close(ours)
        return process.returncode, out, err


@pytest.mark.skipif(os.name == "nt", reason="no pseudo terminals on this system")
def test_on_a_terminal_what_no_flag_says_is_asked_and_a_wrong_answer_asked_again(tmp_path):
    flags = [word for one in QUESTIONS if one.name not in ("tank", "head")
             for word in (one.flag, one.shown(beginning.completed({})[one.name]))]
    code, out, err = on_a_terminal(tmp_path, ["a drum", "200 L", "", "levle", "level"],
                                   "drum", *flags)
    assert code == Exit.DONE, err
    assert "a drum" in err
    assert err.count("Upper tank: litres") == 2
    assert "its outlet above the nozzle [8 m]" in err
    assert "'levle': no key of [sensors]; did you mean level?" in err
    assert "Upper tank: litres" not in out
    rig = load(tmp_path / "drum.toml")
    assert rig.upper.base_height_m == 8.0
    assert "upper.base_height" in rig.marked  # Enter took what stands in brackets
    assert "pump.rated_head" not in rig.marked
    assert instruments.fitted(rig.sensors) == MODEST | {"level"}


@pytest.mark.skipif(os.name == "nt", reason="no pseudo terminals on this system")
def test_answers_that_cannot_be_are_given_back_as_flags(tmp_path):
    lines = ["0.6 m x 0.8 m", "5 m", "4 m", *[""] * 30]
    code, _, err = on_a_terminal(tmp_path, lines, "drum")
    assert code == Exit.INPUT
    assert '--tank "0.6 m x 0.8 m" --head "5 m" --lift "4 m"\n' in err
    assert err.splitlines()[-1].startswith("forebay: --lift 4 m: must be at least 5.9")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name == "nt", reason="no pseudo terminals on this system")
def test_with_yes_a_terminal_is_asked_nothing(tmp_path):
    code, _, err = on_a_terminal(tmp_path, [], "drum", "--yes", "--head", "6 m")
    assert (code, err) == (Exit.DONE, "")
    assert load(tmp_path / "drum.toml").upper.base_height_m == 6.0


@settings(deadline=None, max_examples=25)
@given(
    st.fixed_dictionaries({}, optional={
        "tank": st.floats(0.02, 3.0).map(Tank), "head": st.floats(1.0, 40.0),
        "panel_power": st.floats(5.0, 300.0), "pump_voltage": st.sampled_from([6.0, 12.0, 24.0]),
        "lamp_voltage": st.sampled_from([1.8, 3.0, 9.0, 12.0]),
        "latitude": st.floats(-60.0, 60.0), "penstock_bore": st.floats(0.012, 0.05)}),
    st.sets(st.sampled_from([one.name for one in instruments.INSTRUMENTS]), max_size=6))
def test_whatever_is_asked_for_the_file_loads_or_lines_say_why_it_cannot(
        tmp_path_factory, stated, more):
    out = tmp_path_factory.mktemp("rig") / "rig.toml"
    begun, told = None, []
    try:
        begun = beginning.fresh("any", stated, MODEST | more, str(out))
    except InputError as error:
        told = error.lines()
    if begun is None:
        assert told
        assert not Path(out).exists()
        assert all(line.isprintable() and len(line) <= 210 for line in told)
        return
    rig = load(out)
    assert rig.plant() == begun.rig.plant()
    assert set(tomllib.loads(rig.toml_text)["assumed"]) <= {one.split(".")[0]
                                                           for one in rig.assumed}
    assert instruments.fitted(rig.sensors) == MODEST | more
