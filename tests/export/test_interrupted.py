"""What an export that is interrupted, killed or told to end leaves behind: nothing for long."""

import os
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime

import pytest

from forebay.export import Wish, export
from tests.export.shelves import fill


@pytest.mark.parametrize("out", ["a.csv", "p"])
def test_an_interrupted_export_leaves_nothing(shelf, tmp_path, out):
    def interrupt(done, total):
        raise KeyboardInterrupt

    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(KeyboardInterrupt):
        export(shelf, 7, Wish(tmp_path / out, UTC), interrupt)
    assert sorted(tmp_path.rglob("*")) == before


EXPORTER = """
import os, signal, sys
from datetime import UTC
from pathlib import Path
from forebay.export import Wish, export
from forebay.shelf import Shelf, query
query.PART_SEGMENTS = 1
def told(done, total):
    if done > 3:
        print("writing", flush=True)
        sys.stdin.readline()
with Shelf(sys.argv[1]) as shelf:
    export(shelf, 7, Wish(Path(sys.argv[2]), UTC), told)
"""


def exporting(shelf_path, out):
    """Returns an export, in a process of its own, that waits in the midst of its work."""
    process = subprocess.Popen([sys.executable, "-c", EXPORTER, str(shelf_path), str(out)],
                               stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert process.stdout
    assert process.stdout.readline() == "writing\n"
    return process


@pytest.mark.skipif(os.name == "nt", reason="locks of POSIX")
@pytest.mark.parametrize("out", ["out/a.csv", "out/p"])
def test_what_a_killed_export_leaves_goes_with_the_next(shelf, tmp_path, out):
    killed = exporting(shelf.path, tmp_path / out)
    killed.kill()
    killed.wait()
    left = list((tmp_path / "out").rglob("*held"))
    assert left  # nothing can clean up at that moment
    other = exporting(shelf.path, tmp_path / out)
    export(shelf, 7, Wish(tmp_path / out, UTC, force=True))
    assert other.poll() is None
    # What another export still writes is left alone.
    assert len(list((tmp_path / "out").rglob("*held"))) == 1
    assert not left[0].exists()
    other.communicate("")
    assert other.returncode != 0  # what has come to be there meanwhile is not replaced
    export(shelf, 7, Wish(tmp_path / out, UTC, force=True))
    names = {path.name for path in (tmp_path / "out").rglob("*") if path.is_file()}
    assert names == ({"a.csv"} if out.endswith("csv") else {"rows.parquet"})


# The command, but its first piece is never written: it waits for a signal instead.
STANDS_STILL = """
import runpy, signal
from forebay.export.csvfile import CsvFile
CsvFile.write = lambda *_: signal.pause()
runpy.run_module("forebay", run_name="__main__")
"""


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_an_export_that_is_told_to_end_leaves_nothing(tmp_path, number):
    shelf_path = fill(tmp_path / "s", datetime(2026, 1, 1, tzinfo=UTC), 200)
    process = subprocess.Popen(
        [sys.executable, "-c", STANDS_STILL, "export", "--shelf", str(shelf_path), "--out",
         str(tmp_path / "out/a.csv")], stderr=subprocess.PIPE, text=True,
        # Whoever runs the tests may have a terminal's end ignored, and a child keeps that.
        preexec_fn=lambda: signal.signal(number, signal.SIG_DFL))
    end = time.monotonic() + 60
    while not list((tmp_path / "out").rglob("*held")):
        assert time.monotonic() < end
        assert process.poll() is None
    process.send_signal(number)
    assert process.wait(60) == 128 + number
    assert not (tmp_path / "out").exists()
