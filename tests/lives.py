"""Spans of a twin lived to their end, and the journal that is left: see tests/stories.py."""

import tempfile
from pathlib import Path

from forebay.twin.twin import Twin
from keeper import channels as ch
from keeper import settings as st
from keeper.clock import PERIODS_PER_S
from keeper.journal.opening import open_journal
from keeper.journal.records import LETTERS
from keeper.operation import orders
from keeper.retained_files import RetainedFiles
from tests.bench.coverage import played
from tests.campaign.coarse import coarse_means


def true_meters(sensors, gains=()):
    """Takes all errors but noise from instruments; gains: (place, factor) of meters that err."""
    sensors.scale = [scale / sensors.gain[place] for place, scale in enumerate(sensors.scale)]
    sensors.gain = [1.0] * ch.COLUMNS
    for place, gain in gains:
        sensors.gain[place] = gain


def segments(rig, settings, sun, periods, faults=(), gains=None, level_off=None):
    """Returns the segments (stream, number, bytes) that a board has after some periods of 0.1 s.

    faults: (seconds, name); gains: of `true_meters`, level_off: of the level's error, None =
    they err as they do.
    """
    with tempfile.TemporaryDirectory() as folder:
        board = Path(folder) / "board"
        twin = Twin(rig, settings, sun,
                    lambda: open_journal(str(board), settings[st.index("rig_id")], st.VERSION,
                                         fitted=settings[st.index("fitted")]), sorted(faults))
        if gains is not None:
            true_meters(twin.sensors, gains)
        if level_off is not None:
            twin.sensors.level_off = level_off
        twin.run(periods)
        while not twin.powered:
            twin.step()
        return _segments(board)


def ordered(rig, settings, sun, seconds, faults, due):
    """Returns (segments, [(boot, its first period)]) of a board that remembers over a cut.

    due: orders (second, code, argument...) that a person gives.
    """
    with tempfile.TemporaryDirectory() as folder:
        board = Path(folder) / "board"
        twin = Twin(rig, settings, sun,
                    lambda: open_journal(str(board), settings[st.index("rig_id")], st.VERSION,
                                         fitted=settings[st.index("fitted")]), faults,
                    open_memory=lambda: RetainedFiles(f"{board}/rig"))
        boots, given = {}, sorted(due)
        for second in range(seconds):
            twin.run(PERIODS_PER_S)
            while given and given[0][0] <= second:
                result = twin.keeper.order(*given[0][1:])
                assert result == orders.DONE, (given[0], result)
                del given[0]
            boots.setdefault(twin.keeper.journal.boot, twin.boot_period)
        return _segments(board), list(boots.items())


def coarse_day(job):
    """Returns (what was true, segments) of a job of tests.bench.coverage.played, at 1 Hz."""
    with tempfile.TemporaryDirectory() as folder, coarse_means():
        true = played.play(job, folder)
        return true, _segments(Path(folder) / "board")


def _segments(board):
    return [(LETTERS.index(path.name[0]), int(path.name[1:]), path.read_bytes())
            for path in sorted(board.iterdir()) if path.name[1:].isdigit()]
