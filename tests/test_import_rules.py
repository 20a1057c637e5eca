"""Who may import what, and how long a function may be."""

import ast
import importlib.metadata
import pathlib

import pytest

from tests.board_modules import BOARD_MODULES, HARDWARE_MODULES
from tests.code_shape import SourceFile

ROOT = pathlib.Path(__file__).resolve().parent.parent
LONGEST_FUNCTION_LINES = 40

# Reviewed exceptions: path::function -> why it is longer.
LONGER: dict[str, str] = {}


def sources(folder: str, top: str) -> list[SourceFile]:
    """Returns every Python file below a folder; dotted names count from `top`."""
    return [SourceFile(path, ROOT / top) for path in sorted((ROOT / folder).rglob("*.py"))]


FIRMWARE = sources("firmware", "firmware")
TWIN = sources("host/forebay/twin", "host")
HOST = sources("host", "host")
TESTS = sources("tests", ".")


def belongs(name: str, *packages: str) -> bool:
    """True if a dotted name is one of the packages or lies in one."""
    return any(name == package or name.startswith(package + ".") for package in packages)


def offences(files: list[SourceFile], allowed) -> list[str]:
    """Returns 'file:line imports name' for each import that allowed(file, name) refuses."""
    return [
        f"{file.path.relative_to(ROOT).as_posix()}:{line} imports {name}"
        for file in files
        for line, name in file.imports()
        if not allowed(file, name)
    ]


def drives_hardware(file: SourceFile) -> bool:
    """True for the files that may touch the chip."""
    return file.module in ("boot", "main") or belongs(
        file.module, "keeper.boards", "keeper.drivers"
    )


def is_physics(file: SourceFile) -> bool:
    """True for the modules shared as pure functions, and machines composed of them."""
    return belongs(file.module, "keeper.physics")


def test_the_rules_see_the_code_they_are_for():
    assert {"keeper", "keeper.protection.elements"} <= {file.module for file in FIRMWARE}
    assert any(file.module == "tests.test_import_rules" for file in TESTS)


def test_firmware_imports_only_itself_and_what_the_board_has():
    def allowed(file, name):
        if name == "os.path" or name.startswith("os.path."):
            return False
        if file.module == "main" and belongs(name, "boot", "program"):
            return True  # the loader's two files, and the program of a slot
        return belongs(name, "keeper", *BOARD_MODULES)

    assert offences(FIRMWARE, allowed) == []


def test_only_boards_drivers_and_the_loader_touch_hardware():
    def allowed(file, name):
        return drives_hardware(file) or not belongs(name, *HARDWARE_MODULES)

    assert offences(FIRMWARE, allowed) == []


# The keeper's rooms, and which of them each may import; `boards` puts all together.
ROOMS = {
    "physics": (), "protection": (), "operation": ("protection",), "journal": (),
    "link": ("protection", "operation"), "instruments": (),
    "drivers": ("physics", "instruments"),
    "boards": ("operation", "journal", "link", "drivers", "instruments"),
}
# At the top only these know rooms: what ties them together.
TIES = {"scan": ("protection", "operation"), "retained": ("protection", "operation"),
        "retained_more": ("operation",), "partial": ("journal",),
        "keeper": ("operation", "journal")}


def test_arrows_between_the_rooms_of_the_keeper_point_one_way():
    assert {path.parent.name for path in (ROOT / "firmware/keeper").glob("*/*.py")} == set(ROOMS)

    def allowed(file, name):
        place, other = file.module.split(".")[1:2], name.split(".")[1:2]
        if not belongs(file.module, "keeper") or not other or other[0] not in ROOMS:
            return True
        may = {**ROOMS, **TIES}.get(place[0], ()) if place else ()
        return place == other or other[0] in may

    assert offences(FIRMWARE, allowed) == []


def test_physics_imports_only_math_and_itself():
    physics = [file for file in FIRMWARE if is_physics(file)]

    assert offences(physics, lambda file, name: belongs(name, "math", "keeper.physics")) == []


def test_firmware_has_no_relative_import():
    # Whoever makes one program of these files follows names, and so must the reader.
    # One once missed `from .checks import require`: a rig with a thermistor did not start.
    relative = [
        f"{file.module}:{node.lineno}"
        for file in FIRMWARE
        for node in ast.walk(ast.parse(file.path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.level
    ]
    assert relative == []


def test_the_twin_imports_only_math_the_keeper_and_itself():
    def allowed(file, name):
        return belongs(name, "math", "keeper", "forebay.twin")

    assert offences(TWIN, allowed) == []


def test_the_words_import_only_the_keeper_and_themselves():
    words = [file for file in HOST if belongs(file.module, "forebay.words")]

    def allowed(file, name):
        return belongs(name, "typing", "keeper", "forebay.words")

    assert words
    assert offences(words, allowed) == []


def test_the_host_never_imports_the_hardware():
    def allowed(file, name):
        return not belongs(name, "machine", "rp2", "keeper.drivers", "micropython")

    assert offences(HOST, allowed) == []


def test_the_product_never_imports_its_tests():
    assert offences(FIRMWARE + HOST, lambda file, name: not belongs(name, "tests")) == []


@pytest.mark.parametrize(
    "file", FIRMWARE + HOST + TESTS, ids=lambda file: file.path.relative_to(ROOT).as_posix()
)
def test_a_function_can_be_read_at_a_sitting(file):
    # A module has no such limit: it holds one idea, however many lines that takes.
    path = file.path.relative_to(ROOT).as_posix()
    too_long = [(f"{path}::{name}", count)
                for name, count in file.functions(above=LONGEST_FUNCTION_LINES)]

    assert [(name, count) for name, count in too_long if name not in LONGER] == []


def test_every_exception_on_the_list_is_still_needed():
    paths = {name.split("::")[0] for name in LONGER}
    too_long = {f"{path}::{name}" for file in FIRMWARE + HOST + TESTS
                if (path := file.path.relative_to(ROOT).as_posix()) in paths
                for name, _ in file.functions(above=LONGEST_FUNCTION_LINES)}

    assert [name for name in LONGER if name not in too_long] == []


def test_the_list_of_board_modules_agrees_with_the_published_stubs():
    # micropython-rp2-stubs and micropython-stdlib-stubs 1.29: generated from a running
    # board of that release, by a project that is not ours.
    stubs = set()
    for package in ("micropython-rp2-stubs", "micropython-stdlib-stubs"):
        for file in importlib.metadata.files(package) or []:
            parts = [part for part in file.parts if part != "stdlib"]
            if file.suffix == ".pyi":
                stubs.add(parts[0].removesuffix(".pyi"))
    # Of these the stubs describe no file of its own.
    undescribed = {"builtins", "_asyncio"}

    assert BOARD_MODULES - stubs <= undescribed


def test_relative_imports_are_resolved_before_they_are_judged(tmp_path):
    folder = tmp_path / "keeper" / "physics"
    folder.mkdir(parents=True)
    module = folder / "pipe.py"
    module.write_text("from . import water\nfrom .. import scan\nfrom ..x.y import z\n")
    package = folder / "__init__.py"
    package.write_text("from .water import density\nimport os.path\n")

    assert [name for _, name in SourceFile(module, tmp_path).imports()] == [
        "keeper.physics.water",
        "keeper.scan",
        "keeper.x.y.z",
    ]
    assert [name for _, name in SourceFile(package, tmp_path).imports()] == [
        "keeper.physics.water.density",
        "os.path",
    ]


def test_code_lines_leave_out_docstrings_comments_and_blanks(tmp_path):
    module = tmp_path / "m.py"
    module.write_text(
        'def f(\n    a,\n):\n    """One.\n\n    Two.\n    """\n\n    # why\n    return a\n'
    )

    file = SourceFile(module, tmp_path)
    assert file.functions() == file.functions(above=3) == [("f", 4)]
    assert file.functions(above=4) == []
