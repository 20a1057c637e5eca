"""One simulated day, on a shelf as a pull leaves it, of a rig that is not as it is described."""

import math

import pytest

from forebay.rig import load
from forebay.shelf import Anchor, Shelf
from keeper import channels as ch
from keeper.journal.records import LETTERS
from tests.calibrate.practice import TRUE
from tests.once import once
from tests.twin.rigs import MINUTES, twin

HOURS, SUN_MIN = 5, 170


def cloudy():
    """Returns a sun that wanders, and goes for the last hours."""
    poa = [650.0 + 300.0 * math.sin(one / 17.0) if one < SUN_MIN else 0.0
           for one in range(MINUTES)]
    return (poa, [35.0] * MINUTES, [14.0] * MINUTES)


@pytest.fixture(scope="session")
def shelf_path(tmp_path_factory):
    """Gives a shelf with some hours of such a rig, its meters right but for their noise."""
    path = tmp_path_factory.mktemp("calibrate") / "shelf.sqlite"
    path.write_bytes(once("shelf of tests.calibrate", lambda: filled(path.parent)))
    return path


def filled(folder):
    """Returns the bytes of that shelf."""
    one = twin(folder, cloudy(), TRUE)
    one.sensors.scale = [scale / gain for scale, gain in
                         zip(one.sensors.scale, one.sensors.gain, strict=True)]
    one.sensors.gain = [1.0] * ch.COLUMNS
    one.sensors.level_off = 0.0
    one.run(HOURS * 36000)
    rig = load()
    with Shelf(folder / "filled.sqlite") as shelf:
        shelf.add_rig(rig.rig_id, rig.rig.name, rig.toml_text, rig.digest)
        for file in sorted((folder / "board").iterdir()):
            shelf.put_segment(rig.rig_id, 0, LETTERS.index(file.name[0]), int(file.name[1:]),
                              file.read_bytes())
        shelf.add_anchor(rig.rig_id, Anchor(0, 1, 0, 1.5e9, 0.05))
    return (folder / "filled.sqlite").read_bytes()
