"""Files that others wrote: a line says what is wrong, and no byte steers the terminal.

Names of files are hostile too: an escape in one once reached the terminal.
"""

import os
import sys

import pytest

from forebay import cli, lastused, rig
from forebay.dispatch import keys
from forebay.exits import Exit

ESC = "\x1b]0;owned\x07\x1b[2J\x9b31m"
# Of a file that says nothing: a line a section, and one for each figure of a meter.
MOST_LINES = 24
DEMO = (rig.Path(rig.__file__).parents[1] / "demo" / "hillside.toml").read_text()
SUN = "time,ghi_w_m2\n2016-01-01T14:15:00Z,1.2\n2016-01-01T14:16:00Z,1.3\n"
NAMES = ["plain", "es\x1b[31mcape", "new\nline", "car\rriage", "right-to-left\u202e", "-dash",
         "tab\there", "n" * 200]

RIGS = {
    "empty": "", "bytes": b"\xff\xfe\x00\x1b[31m", "nul": "\0" * 500, "escape": ESC,
    "no toml": "[rig\nname = ", "escape in a key": DEMO + f'\n["{ESC!r}"]\nx = 1\n',
    "escape in a name": DEMO.replace("hillside allotment", "hill\\u001b[31mside"),
    "escape as it is": DEMO.replace("hillside allotment", "hill\x1b[31mside"),
    "escape in a value": DEMO.replace('"1.0 m"', '"1.0 \\u001b[2J m"'),
    "endless number": DEMO.replace('"1.0 m"', '"' + "9" * 100000 + ' m"'),
    "great number": DEMO.replace('"1.0 m"', "1" * 400),
    "deep": DEMO + "\nx = " + "[" * 5000 + "]" * 5000,
    "not a table": "rig = 5\nsite = [1]\n", "lists": DEMO.replace('"1.0 m"', "[1, 2]"),
    "long": "#" * 1_100_000,
}
SUNS = {
    "empty": "", "bytes": b"\xff\xfe\x00\x1b[31m", "nul": "\0" * 500, "escape": ESC,
    "escape in a header": SUN.replace("ghi_w_m2", f"{ESC}ghi_w_m2"),
    "escape in an unused column": SUN.replace("ghi_w_m2", f"ghi_w_m2,{ESC}").replace(
        ",1.2", ",1.2,0").replace(",1.3", ",1.3,0"),
    "escape in a time": SUN.replace("14:16", f"14:{ESC}16"),
    "escape in a value": SUN.replace("1.3", f"1.3{ESC}"),
    "no zone": SUN.replace("Z", ""), "year 1": SUN.replace("2016", "0001"),
    "year 9999": SUN.replace("2016", "9999"), "far zone": SUN.replace("Z", "+23:59"),
    "inf": SUN.replace("1.3", "inf"), "nan": SUN.replace("1.3", "nan"),
    "great": SUN.replace("1.3", "9" * 5000), "one row": SUN[:45], "no rows": SUN[:14],
    "many fields": SUN.replace("1.3", ",".join("1" * 9999)),
    "quotes": SUN.replace("1.3", '"1.3'), "long line": SUN + "#" * 3_000_000,
    "same time": SUN.replace("14:16", "14:15"), "backwards": SUN.replace("14:16", "14:14"),
}
DATS = {
    "empty": "", "header only": " Alamosa\n 37.70 105.92 2317 m version 1\n",
    "escape": f" {ESC}\n 37.70 105.92 2317 m version 1\n{ESC}\n",
    "nan": " A\n nan nan nan m version 1\n" + " ".join(["0"] * 48) + "\n",
    "great": " A\n 37.70 105.92 2317 m version 1\n" + " ".join(["9" * 400] * 48) + "\n",
    "zeros": " A\n 37.70 105.92 2317 m version 1\n" + " ".join(["0"] * 48) + "\n",
}
STATIONS = {"empty": "", "bytes": b"\xff\x00", "escape": ESC, "wrong": "latitude_deg = 'x'",
            "escape in a key": '"\\u001b[31m" = 1', "nan": "latitude_deg = nan",
            "name": "latitude_deg = 1.0\nlongitude_deg = 1.0\nheight_m = 1.0\nname = 5"}


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(lastused, "path", lambda: tmp_path / "state" / "last.json")


def write(name, content):
    with open(name, "wb") as file:
        file.write(content if isinstance(content, bytes) else content.encode())
    return name


def refused(capsys, *arguments, most_lines=1):
    """Returns what a command says that cannot do what it is asked."""
    code = cli.run(list(arguments))
    out, err = capsys.readouterr()
    assert (code, out) == (Exit.INPUT, ""), err[:500]
    lines = err.splitlines()
    assert 1 <= len(lines) <= most_lines, err[:500]
    for line in lines:
        assert line.isprintable(), repr(line[:500])
        assert line.startswith("forebay: ")
        assert len(line) < 1100
    return err


@pytest.mark.parametrize("kind", RIGS)
def test_a_hostile_description(kind, capsys):
    write("rig.toml", RIGS[kind])
    for command in (["rehearse"], ["rehearse", "--serve"]):
        said = refused(capsys, *command[:1], "rig.toml", *command[1:], most_lines=MOST_LINES)
        assert "rig.toml" in said


@pytest.mark.parametrize("kind", SUNS)
def test_a_hostile_sun(kind, capsys):
    write("sun.csv", SUNS[kind])
    assert "sun.csv" in refused(capsys, "rehearse", "--sun", "sun.csv")


@pytest.mark.parametrize("kind", DATS)
def test_a_hostile_daily_file(kind, capsys):
    write("sun.dat", DATS[kind])
    assert "sun.dat" in refused(capsys, "rehearse", "--sun", "sun.dat")


@pytest.mark.parametrize("kind", STATIONS)
def test_a_hostile_station(kind, capsys):
    write("sun.csv", SUN)
    write("sun.station.toml", STATIONS[kind])
    refused(capsys, "rehearse", "--sun", "sun.csv")


@pytest.mark.parametrize("name", NAMES)
def test_names_are_shown_and_do_nothing(name, capsys):
    for arguments in (
        ["rehearse", "--sun", name], ["rehearse", "--", name], ["rehearse", "--fault", name],
        ["rehearse", "--station", name], ["rehearse", "--date", name],
        ["rehearse", "--python", name, "--out", "o"], ["rehearse", "--at", name, "--serve"],
        ["balance", "--shelf", name], ["check", f"--shelf={name}"], ["pull", f"--port={name}"],
        ["watch", f"--port={name}"], ["watch", "--once", f"--proved={name}", "--port", name],
        ["dispatch", "light", name, "--for", "1 h", "--port", "x"],
        ["dispatch", "rest", "--for", name, "--port", "x"],
        ["dispatch", "last", f"--till={name}", "--port", "x"],
        ["dispatch", "access", f"--rig={name}"], ["flash", "--port", "x", "--", name],
        ["export", f"--out={name}", "--shelf", "x"], [name], ["balance", name],
        ["balance", f"--{name}"],
    ):
        refused(capsys, *arguments)


@pytest.mark.parametrize("place", ["/dev/null", "/dev/zero", ".", "/proc/self/mem", "dangling"])
@pytest.mark.skipif(sys.platform != "linux", reason="places of Linux")
def test_places_that_are_no_files(place, capsys):
    os.symlink("nowhere", "dangling")
    refused(capsys, "rehearse", place, most_lines=MOST_LINES)
    refused(capsys, "rehearse", "--sun", place)
    refused(capsys, "balance", "--shelf", place)
    refused(capsys, "dispatch", "access", "--rig", place, most_lines=MOST_LINES)


@pytest.mark.parametrize("content", ["", "null", "[]", '{"port": 5}', '{"port": "\\u001b[31m"}',
                                     b"\xff", '{"rig": "\\u0000"}', "{" * 50000])
def test_a_hostile_memory_of_what_was_used_last_is_as_none(content, capsys, monkeypatch):
    monkeypatch.setattr("forebay.ports.candidates", list)
    os.mkdir("state")
    write("state/last.json", content)
    for arguments in (["watch", "--once"], ["pull"], ["flash"], ["dispatch", "access"]):
        refused(capsys, *arguments)


@pytest.mark.skipif(os.name == "nt", reason="modes of POSIX")
@pytest.mark.parametrize("kind", ["dangling", "loop", "folder", "empty", "long", "open", "ours"])
def test_a_hostile_key(kind, capsys, monkeypatch, tmp_path):
    monkeypatch.setattr(keys, "folder", lambda: tmp_path / "keys")
    (tmp_path / "keys").mkdir(mode=0o700)
    place = keys.path(rig.load().rig_id)
    write("rig.toml", DEMO)
    if kind in ("dangling", "loop"):
        place.symlink_to(place if kind == "loop" else "nowhere")
    elif kind == "folder":
        place.mkdir()
    else:
        place.touch(mode=0o600)
        place.write_bytes(bytes({"empty": 0, "long": 10**6}.get(kind, 32)))
    if kind == "open":
        place.chmod(0o604)
    if kind == "ours":
        (tmp_path / "keys").chmod(0o777)
    refused(capsys, "dispatch", "access", "--rig", "rig.toml")
