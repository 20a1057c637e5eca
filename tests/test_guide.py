"""README.md and DEVELOPERS.md say what is so: paths, names, commands, tables."""

import importlib
import importlib.util
import pathlib
import re
import shlex

import click
import pytest

from forebay import cli
from forebay.sun.formats import FORMATS
from forebay.twin import faults
from forebay.words import measured
from keeper import channels as ch

ROOT = pathlib.Path(__file__).resolve().parent.parent
PAGES = ("README.md", "DEVELOPERS.md")
REASONS = "host/docs/design.md"
ROOMS = "firmware|host|tests|hardware|\\.ci"

COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)
BLOCK = re.compile(r"^```\w*\n(.*?)^```$", re.DOTALL | re.MULTILINE)
CODE = re.compile(r"`([^`\n]+)`")
LINK = re.compile(r"\[([^\]\n]+)\]\((?!https?:)([^)#\s]+)\)")
PATH = re.compile(rf"(?:{ROOMS})(?:/[\w.*-]+)*/?|[\w.-]+\.(?:toml|lock|md)|LICENSE")
NAME = re.compile(r"(?:keeper|forebay)(?:\.\w+)+")
MODULE = re.compile(r"python -m ([\w.]+)")
CONTEXT = click.Context(cli.group)
# Files of a user, named in examples.
USERS = re.compile(r"(?:my-.*|rig)\.toml")


def text_of(page: str) -> str:
    return COMMENT.sub("", (ROOT / page).read_text(encoding="utf-8"))


def section(text: str, heading: str) -> str:
    """Returns a section of a page, '' if the page has none of that heading."""
    found = re.search(rf"^{re.escape(heading)}$(.*?)(?=^## |\Z)", text, re.DOTALL | re.MULTILINE)
    return found[1] if found else ""


def spans(text: str) -> list[str]:
    """Returns what stands in backticks, blocks left out."""
    return CODE.findall(BLOCK.sub("", text))


def paths(text: str) -> set[str]:
    """Returns what a text names as a place in the repository, by link or in backticks."""
    links = LINK.findall(text)
    words = [*spans(text), *(label for label, _ in links)]
    named = {word for word in words if PATH.fullmatch(word) and not USERS.fullmatch(word)}
    return named | {target for _, target in links}


def holds_files(path: pathlib.Path) -> bool:
    return path.is_file() or any(one.is_file() for one in path.rglob("*"))


def missing(named: set[str]) -> list[str]:
    """Returns the paths that lead to no file; a path may have wildcards."""
    return [path for path in sorted(named)
            if not any(map(holds_files, ROOT.glob(path.rstrip("/"))))]


def resolves(name: str) -> bool:
    """True if a dotted name leads from a module to something that is there."""
    parts = name.split(".")
    for count in range(len(parts), 0, -1):
        try:
            thing = importlib.import_module(".".join(parts[:count]))
        except ModuleNotFoundError:
            continue
        for part in parts[count:]:
            if not hasattr(thing, part):
                return False
            thing = getattr(thing, part)
        return True
    return False


def rows(page: str, first_cell: str) -> list[list[str]]:
    """Returns the rows of the table whose head begins with a cell, without backticks."""
    lines = iter(text_of(page).splitlines())
    for line in lines:
        if line.startswith(f"| {first_cell} |"):
            break
    assert next(lines).startswith("|---"), f"{page} has no table that begins with {first_cell}"
    found = []
    for line in lines:
        if not line.startswith("|"):
            break
        found.append([cell.strip().strip("`") for cell in line.strip("|").split("|")])
    return found


def commands(page: str) -> list[list[str]]:
    """Returns the arguments of every call of host/run.py in the blocks of a page."""
    lines = "\n".join(BLOCK.findall(text_of(page))).splitlines()
    calls = [line.split("host/run.py", 1)[1] for line in lines if "host/run.py" in line]
    return [shlex.split(call) for call in calls]


@pytest.mark.parametrize("page", PAGES)
def test_every_path_that_a_page_names_is_there(page):
    text = text_of(page)
    named = paths(text)

    assert len(named) >= 8
    assert missing(named) == []


def test_a_path_that_leads_nowhere_is_seen():
    text = "See `host/no_such.py`, [here](docs/none.md), `tests/*.py` and `host/run.py`."

    assert missing(paths(text)) == ["docs/none.md", "host/no_such.py"]


@pytest.mark.parametrize("page", PAGES)
def test_every_name_of_the_code_that_a_page_gives_is_there(page):
    names = [span for span in spans(text_of(page)) if NAME.fullmatch(span)]
    modules = [name for span in spans(text_of(page)) for name in MODULE.findall(span)]

    assert [name for name in names if not resolves(name)] == []
    assert [name for name in modules if importlib.util.find_spec(name) is None] == []


def test_the_page_of_reasons_leads_to_files_and_benches_that_are_there():
    text = text_of(REASONS)
    links = {target for _, target in LINK.findall(text)}
    modules = [name for span in spans(text) for name in MODULE.findall(span)]

    assert links
    assert modules
    assert [one for one in links if not ((ROOT / REASONS).parent / one).is_file()] == []
    assert [name for name in modules if importlib.util.find_spec(name) is None] == []


def test_a_name_that_is_not_there_is_seen():
    assert resolves("keeper.scan.Scan.run")
    assert not resolves("keeper.scan.Scan.walk")
    assert not resolves("keeper.no_such_module")


@pytest.mark.parametrize("page", PAGES)
def test_what_is_shown_of_the_command_line_can_be_typed(page):
    for arguments in commands(page):
        command = cli.group.get_command(CONTEXT, arguments[0])
        assert command is not None, arguments
        # Parses alone: an unknown option or a missing one raises.
        given = command.make_context(arguments[0], arguments[1:]).params
        assert {text.split("@")[0] for text in given.get("faults") or ()} <= set(faults.NAMES)


@pytest.mark.parametrize("page", PAGES)
def test_every_option_that_a_page_speaks_of_is_one(page):
    commands_here = [cli.group.get_command(CONTEXT, name) for name in cli.COMMANDS]
    known = {option for command in commands_here if command
             for parameter in command.params for option in parameter.opts}
    spoken = {span.split()[0] for span in spans(text_of(page)) if span.startswith("--")}

    assert spoken
    assert spoken - known == set()


def test_the_readme_shows_every_command():
    assert {arguments[0] for arguments in commands("README.md")} == set(cli.COMMANDS)


def test_the_readme_names_every_kind_of_weather_file():
    listed = section(text_of("README.md"), "### 4 Rehearse it")

    assert [kind.name for kind in FORMATS if kind.name.split()[0] not in listed] == []


def test_the_nomenclature_has_the_keepers_channels():
    expected = [
        [
            row[ch.CH_NAME],
            *measured.CHANNELS[row[ch.CH_NAME]],
            row[ch.CH_UNIT],
            str(row[ch.CH_LOW]),
            str(row[ch.CH_HIGH]),
            f"{int(row[ch.CH_STEP_NUM]) / int(row[ch.CH_STEP_DEN]):g}",
        ]
        for row in ch.CHANNELS
    ]
    found = rows("DEVELOPERS.md", "name")

    assert [row[:4] + row[5:] for row in found] == expected
    assert [row[0] for row in found if not row[4].startswith("+ ")] == []


def test_the_nomenclature_has_the_keepers_contacts_outputs_and_totals():
    assert rows("DEVELOPERS.md", "contact") == [
        [name, *measured.CONTACTS[name]] for name in ch.CONTACTS
    ]
    assert rows("DEVELOPERS.md", "output") == [
        [name, *measured.OUTPUTS[name], str(low), str(high)] for name, low, high in ch.OUTPUTS
    ]
    assert rows("DEVELOPERS.md", "total") == [
        [name, measured.TOTALS[name], name.rsplit("_", 1)[1]] for name in ch.TOTALS
    ]


def test_a_channels_name_ends_in_its_unit():
    pairs = [(str(row[ch.CH_NAME]), str(row[ch.CH_UNIT])) for row in ch.CHANNELS]

    assert [name for name, unit in pairs if not name.endswith("_" + unit.replace("/", "_"))] == []
