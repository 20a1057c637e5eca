"""Checks types: the host and tests as CPython sees them, the firmware as the board does.

Run it with the environment's Python: `.venv/bin/python tests/check_types.py`.
Exits with 1 if there is a finding, or if nothing was there to be checked.
"""

import json
import os
import pathlib
import subprocess
import sys
import sysconfig
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tests.tools import npm  # noqa: E402 - found through the line above


def check(label: str, project: pathlib.Path) -> bool:
    """Runs the checker on one configuration file and prints what it finds."""
    pyright = npm.package_path("pyright") / "index.js"
    command = [npm.node_path(), pyright, "--project", project, "--pythonpath", sys.executable]
    done = subprocess.run(
        [*map(str, command), "--outputjson"], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    report = json.loads(done.stdout)
    for finding in report["generalDiagnostics"]:
        place = os.path.relpath(finding["file"], ROOT)
        line = finding["range"]["start"]["line"] + 1
        print(f"{place}:{line}: {finding['severity']}: {finding['message']}")
    files = report["summary"]["filesAnalyzed"]
    print(f"{label}: {len(report['generalDiagnostics'])} findings in {files} files")
    return files > 0 and not report["generalDiagnostics"]


def firmware_settings(folder: pathlib.Path) -> dict[str, object]:
    """Returns the settings under which the board's own library replaces CPython's.

    folder: where the settings will lie; the checker wants paths relative to it.
    """
    return {
        "include": [os.path.relpath(ROOT / "firmware", folder)],
        "extraPaths": [os.path.relpath(ROOT / "firmware", folder)],
        # The package micropython-stdlib-stubs puts its library beside the others.
        "typeshedPath": sysconfig.get_path("purelib"),
        "pythonVersion": "3.11",
        "typeCheckingMode": "basic",
        # What the stubs describe is compiled into the board: there is no source.
        "reportMissingModuleSource": "none",
    }


def main() -> int:
    """Runs both checks, the second also if the first has findings; returns the exit code."""
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name).resolve()
        board = folder / "pyrightconfig.json"
        board.write_text(json.dumps(firmware_settings(folder)), encoding="utf-8")
        clean = [check("host and tests", ROOT / "pyproject.toml"), check("firmware", board)]
    return 0 if all(clean) else 1


if __name__ == "__main__":
    sys.exit(main())
