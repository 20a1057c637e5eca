"""What every test shares: repeatable random cases, folders of its own, the board's interpreter."""

import gc
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator

# As the `forebay` command does, and before anything loads numpy: its threads would wait for
# each other on small matrices, and there is a worker for each core already.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import hypothesis
import pytest

from tests import once
from tests.micropython import harness

# Derandomized: a failure on one machine is a failure on all. No deadline:
# how fast a loaded machine is says nothing about the code.
hypothesis.settings.register_profile("forebay", derandomize=True, deadline=None)
hypothesis.settings.load_profile("forebay")


def pytest_configure(config: pytest.Config) -> None:
    """Gives the workers of this run a folder for what one of them makes for all."""
    if not hasattr(config, "workerinput"):
        os.environ[once.FOLDER] = tempfile.mkdtemp(prefix="made-once-")
        config.add_cleanup(lambda: shutil.rmtree(os.environ.pop(once.FOLDER)))


@pytest.fixture(scope="session", autouse=True)
def own_folders(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keeps the user's own shelf and settings out of the tests, and the tests out of them."""
    home = tmp_path_factory.mktemp("home")
    changed = {
        "HOME": str(home),
        "XDG_DATA_HOME": str(home / "data"),
        "XDG_CACHE_HOME": str(home / "cache"),
        "XDG_CONFIG_HOME": str(home / "config"),
        "XDG_STATE_HOME": str(home / "state"),
        "LOCALAPPDATA": str(home / "local"),
        "APPDATA": str(home / "roaming"),
    }
    with pytest.MonkeyPatch.context() as patch:
        for name, value in changed.items():
            patch.setenv(name, value)
        for name in [name for name in os.environ if name.startswith("FOREBAY_")]:
            patch.delenv(name)
        yield


@pytest.fixture(scope="session")
def run_micropython() -> Callable[..., harness.Run]:
    """The function harness.run_micropython."""
    return harness.run_micropython


def pytest_collection_finish() -> None:
    """Keeps what was collected out of the way of the garbage collector.

    Programs of the board collect at each start and in each second; to look through ten
    thousand tests every time takes longer than most of them.
    """
    gc.collect()
    gc.freeze()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Shows measured figures, and which tests were not run: those did not pass."""
    for report in terminalreporter.stats.get("passed", []):
        for name, text in report.user_properties:
            if name == "measured":
                terminalreporter.write_line(str(text))
    skipped = terminalreporter.stats.get("skipped", [])
    reasons = [str(report.longrepr[2]).removeprefix("Skipped: ") for report in skipped]
    for reason in sorted(set(reasons)):
        if reason.startswith("not run:"):
            terminalreporter.write_line(f"{reasons.count(reason)} tests {reason}")
