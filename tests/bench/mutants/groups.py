"""What is put to the test by what: groups of sources, their own tests, and the bar of each."""

import dataclasses
import pathlib

ROOT = pathlib.Path(__file__).resolve().parents[3]
# What the tests may look at, and a copy of the tree must hold.
COPIED = ("firmware", "host", "tests", "hardware", "pyproject.toml", "README.md",
          "DEVELOPERS.md", "LICENSE", "requirements.lock", "requirements-test.lock")
# Of a group's mutants so many at least, and so many for each of its files.
COUNT, COUNT_A_FILE = 60, 15
SAFETY, USUAL = 95, 90


@dataclasses.dataclass(frozen=True)
class Group:
    """A row: sources, the tests that own them; `further` is asked of what survives these.

    bar: of the mutants that change behaviour so many must be noticed [%]; None: no promise.
    """

    name: str
    bar: int | None
    sources: tuple[str, ...]
    tests: tuple[str, ...]
    further: tuple[str, ...] = ()
    at_most: int | None = None  # mutants, where the tests are slow

    def files(self) -> list[str]:
        """Returns the sources, patterns resolved, relative to the repository."""
        found = [path for pattern in self.sources for path in sorted(ROOT.glob(pattern))]
        return [path.relative_to(ROOT).as_posix() for path in found
                if path.name != "__init__.py" or path.stat().st_size > SHORT_BYTES]

    def count(self) -> int:
        """Returns how many mutants are drawn unless another number is asked for."""
        return self.at_most or max(COUNT, COUNT_A_FILE * len(self.files()))


# A package's file that says no more than what the package is.
SHORT_BYTES = 800


def keeper(*names: str) -> tuple[str, ...]:
    """Returns the paths of modules of the keeper."""
    return tuple(f"firmware/keeper/{name}.py" for name in names)


KEEPER = ("tests/keeper",)
GROUPS = (
    Group("elements", SAFETY, keeper("protection/elements"), KEEPER),
    Group("protection", SAFETY, keeper("protection/judging"), KEEPER),
    Group("derived", SAFETY, keeper("protection/derived"), KEEPER),
    Group("sequence", SAFETY,
          keeper("operation/sequence", "modes", "operation/actuators"), KEEPER),
    Group("lockout", SAFETY, keeper("protection/lockout"), KEEPER),
    Group("orders", SAFETY, keeper("operation/orders"), KEEPER, ("tests/link/test_desk.py",)),
    Group("light", SAFETY, keeper("operation/light", "operation/button"), KEEPER),
    Group("night", SAFETY, keeper("operation/night", "operation/budget"), KEEPER),
    Group("kept", SAFETY, keeper("retained", "retained_files"),
          KEEPER, ("tests/loop/test_start.py", "tests/loop/test_lacking.py")),
    Group("scan", SAFETY, keeper("scan", "clock"), KEEPER),
    Group("totals", SAFETY, keeper("totals"), KEEPER),
    Group("governor", SAFETY, keeper("operation/governor"), KEEPER,
          ("tests/twin/test_governing.py",)),
    Group("loader", SAFETY, ("firmware/main.py", "firmware/boot.py"), ("tests/loop",)),
    Group("journal", SAFETY,
          keeper(*("journal/" + name for name in (
              "journal", "segments", "blocks", "records", "recovery", "rows", "summary", "closing",
              "outgoing", "opening"))),
          ("tests/journal",)),
    Group("balance", USUAL, ("host/forebay/balance/*.py",), ("tests/balance",)),
    # Most of its tests start an interpreter.
    Group("flash", USUAL, ("host/forebay/flash/*.py",), ("tests/flash",), at_most=COUNT),
    Group("desk", USUAL,
          keeper("link/desk", "link/signing", "link/hmac", "link/identity"),
          ("tests/link", "tests/dispatch/test_orders.py")),
    Group("twin", USUAL, ("host/forebay/twin/*.py",), ("tests/twin",)),
    Group("artefact", None, ("host/forebay/flash/artefact/*.py",), ("tests/artefact",)),
)
BY_NAME = {group.name: group for group in GROUPS}
WITH_BAR = tuple(group for group in GROUPS if group.bar is not None)
