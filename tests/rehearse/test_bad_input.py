"""Bad input: one clear line each, exit code 2, nothing written."""

import importlib.resources
import subprocess
import sys

import pytest

from forebay import cli

DEMO = (importlib.resources.files("forebay") / "demo" / "hillside.toml").read_text("utf-8")
CSV_HEAD = "time_utc,ghi_w_m2\n"


@pytest.fixture
def forebay(tmp_path, monkeypatch, capsys):
    """forebay(*arguments) runs the command in tmp_path; returns (exit code, stdout, stderr)."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        capsys.readouterr()
        code = cli.run(list(arguments))
        return code, *capsys.readouterr()

    return run


def minutes(values):
    """Returns CSV rows of a 2016-01-01, one a minute, for (minute, text)."""
    return CSV_HEAD + "".join(
        f"2016-01-01T{13 + m // 60:02d}:{m % 60:02d}:00Z,{text}\n" for m, text in values)


CASES = {
    "a sun file that is not there": (["--sun", "missing.csv"], {}, ["missing.csv"]),
    "a row that is no number": (
        ["--sun", "bad.csv"],
        {"bad.csv": minutes([(0, "10"), (1, "ten"), (2, "12")])}, ["bad.csv", "3"]),
    "irradiance -999 by day": (
        ["--sun", "bad.csv"],
        {"bad.csv": minutes([(m, "-999" if m == 300 else "400") for m in range(600)])},
        ["bad.csv", "302"]),
    "a rig that is not there": (["none.toml"], {}, ["none.toml"]),
    "an unknown key": (["rig.toml"], {"rig.toml": "[upper]\nheigth = 1\n"}, ["upper.heigth"]),
    "a wrong unit": (["rig.toml"], {"rig.toml": '[upper]\nheight = "3 kg"\n'}, ["upper.height"]),
    "a negative height": (
        ["rig.toml"], {"rig.toml": '[upper]\nheight = "-1 m"\n'}, ["upper.height"]),
    "TOML that does not parse": (["rig.toml"], {"rig.toml": "[upper\n"}, ["rig.toml"]),
    "a rig that cannot work, with every reason": (
        ["rig.toml"],
        {"rig.toml": DEMO.replace('"29 V"', '"32 V"').replace('"23.5 V"', '"28 V"')},
        ['panel.open_circuit_voltage = "32 V"', 'limits.start_voltage = "28 V"']),
    "an unknown fault": (["--fault", "moon-eclipse@10:00"], {}, ["moon-eclipse"]),
    "a fault at 99:00": (["--fault", "load-lost@99:00"], {}, ["99:00", "23:59"]),
    "a fault without a time": (["--fault", "load-lost"], {}, ["NAME@HH:MM"]),
    "a setpoint above the generator": (["--setpoint", "5"], {}, ["5", "1.5 W"]),
    "a setpoint that is no number": (["--setpoint", "much"], {}, ["much"]),
    "a date that is none": (["--date", "2016-13-01"], {}, ["2016-13-01"]),
    "a day that the file lacks": (["--date", "2016-02-01"], {}, ["2016-02-01"]),
}


@pytest.mark.parametrize("name", CASES)
def test_bad_input_of_a_rehearsal_is_told_in_plain_lines(tmp_path, forebay, name):
    arguments, files, words = CASES[name]
    for path, text in files.items():
        (tmp_path / path).write_text(text)
    code, out, told = forebay("rehearse", *arguments, "--out", "results")
    assert code == 2
    assert out == ""
    assert "Traceback" not in told
    for word in words:
        assert word in told
    assert not (tmp_path / "results").exists()


def test_a_full_folder_is_never_overwritten(tmp_path, forebay):
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "diary.txt").write_text("mine")
    code, _, told = forebay("rehearse", "--out", "kept")
    assert code == 2
    assert "kept" in told
    assert [path.name for path in (tmp_path / "kept").iterdir()] == ["diary.txt"]


def test_a_folder_that_cannot_be_made_is_told(tmp_path, forebay):
    (tmp_path / "file").write_text("mine")
    code, _, told = forebay("rehearse", "--out", "file/below")
    assert code == 2
    assert "file/below" in told
    assert (tmp_path / "file").read_text() == "mine"


def test_a_port_that_is_not_there_is_told_in_one_line(forebay):
    code, _, told = forebay("pull", "--port", "no-such-port", "--shelf", "s.sqlite")
    assert code == 2
    assert "no-such-port" in told
    assert len(told.strip().splitlines()) == 1


def test_as_a_program_of_its_own_it_tells_the_same(tmp_path, forebay):
    arguments = ("rehearse", "none.toml", "--out", "results")
    done = subprocess.run([sys.executable, "-m", "forebay", *arguments], cwd=tmp_path,
                          capture_output=True, text=True, timeout=120)
    assert (done.returncode, done.stdout, done.stderr) == forebay(*arguments)
