"""The repository keeps its promises: the wheel, the lock files, the commands, the layout."""

import importlib
import json
import pathlib
import re
import subprocess
import tomllib

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from forebay.hardware import tables

ROOT = pathlib.Path(__file__).resolve().parent.parent
COMMANDS = ("python3 host/run.py rehearse", "python3 tests/run.py")
LOCKS = ("requirements.lock", "requirements-test.lock")
TOP_LEVEL = {
    ".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "firmware", "hardware",
    "host", "pyproject.toml", "requirements.lock", "requirements-test.lock", "tests",
}  # fmt: skip
# Folder of this repository -> package that the wheel makes of it.
PACKAGES = {"host/forebay": "forebay", "firmware/keeper": "keeper"}
PINNED = re.compile(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)")


def project() -> dict:
    return tomllib.loads((ROOT / "pyproject.toml").read_text())


def locked(name: str) -> dict[str, str]:
    """Returns package -> version of a lock file."""
    lines = (ROOT / name).read_text().splitlines()
    found = [PINNED.match(line) for line in lines if line[:1].isalnum()]
    assert all(found), f"{name} has a line that pins no version"
    return {canonicalize_name(match[1]): match[2] for match in found if match}


def installed(package: str) -> pathlib.Path:
    origin = importlib.import_module(package).__file__
    assert origin
    return pathlib.Path(origin).parent


def git_files(*options: str) -> list[str]:
    """Returns what `git ls-files` names, also in a clone that another user owns."""
    command = ["git", "-c", "safe.directory=*", "ls-files", "-z", *options]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    return [name for name in done.stdout.split("\0") if name]


def loader_files() -> dict[str, bytes]:
    """Returns what lies above the keeper on a board, under its name in the wheel."""
    paths = (ROOT / "firmware").glob("*.py")
    return {f"loader/{path.name}": path.read_bytes() for path in paths}


def table_files() -> dict[str, bytes]:
    """Returns the tables of the hardware, under their names in the wheel."""
    return {f"hardware/data/{name}.toml": (ROOT / "hardware" / f"{name}.toml").read_bytes()
            for name in tables.NAMES}


def contents(folder: pathlib.Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


@pytest.mark.parametrize("folder", PACKAGES)
def test_what_is_installed_is_this_tree_with_all_its_data(folder):
    expected = contents(ROOT / folder)
    if folder == "host/forebay":
        expected |= loader_files() | table_files()
    found = contents(installed(PACKAGES[folder]))

    assert set(found) == set(expected)
    assert [name for name in expected if found[name] != expected[name]] == []


@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_file_pins_versions_with_hashes_and_names_no_address(name):
    text = (ROOT / name).read_text()
    entries = re.split(r"\n(?=[A-Za-z0-9])", text)[1:]

    assert len(entries) == len(locked(name))
    assert [entry for entry in entries if "--hash=sha256:" not in entry] == []
    assert re.findall(r"https?:|file:|--index|--extra-index|--find-links|@ ", text) == []


def test_the_lock_files_agree_with_each_other():
    run, test = (locked(name) for name in LOCKS)

    assert [name for name in run if test.get(name) != run[name]] == []


@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_file_satisfies_the_project(name):
    wanted = [*project()["build-system"]["requires"], *project()["project"]["dependencies"]]
    if name == "requirements-test.lock":
        wanted += project()["project"]["optional-dependencies"]["test"]
    versions = locked(name)
    unmet = [
        text
        for text in wanted
        for requirement in [Requirement(text)]
        if versions.get(canonicalize_name(requirement.name), "") not in requirement.specifier
    ]

    assert unmet == []


def test_the_npm_packages_are_pinned_with_hashes_and_without_addresses():
    tools = ROOT / "tests" / "tools"
    wanted = json.loads((tools / "package.json").read_text())["dependencies"]
    packages = json.loads((tools / "package-lock.json").read_text())["packages"]
    pinned = {name: entry for name, entry in packages.items() if name}

    assert {name: packages[f"node_modules/{name}"]["version"] for name in wanted} == wanted
    assert [n for n, entry in pinned.items() if not entry["integrity"].startswith("sha512-")] == []
    assert [n for n, entry in pinned.items() if "resolved" in entry] == []


@pytest.mark.parametrize("command", COMMANDS)
def test_the_readme_gives_the_commands_that_are_checked_here(command):
    lines = [line.strip() for line in (ROOT / "README.md").read_text().splitlines()]

    assert command in lines
    assert command in (ROOT / ".ci" / "run").read_text()


def test_the_top_level_holds_only_what_belongs_there():
    found = {name.split("/")[0] for name in git_files()}

    assert found - TOP_LEVEL == set()


def test_no_file_is_hidden_from_the_wheel_by_what_git_ignores():
    # The build leaves out what .gitignore names, so a pattern there could lose data.
    ignored = git_files("--cached", "--ignored", "--exclude-standard", *PACKAGES, "firmware")

    assert ignored == []
