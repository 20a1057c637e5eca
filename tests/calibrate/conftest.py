"""One simulated day, on a shelf as a pull leaves it, of a rig that is not as it is described."""

import math

import pytest

from forebay.rig import load
from forebay.shelf import Anchor, Shelf
from tests import lives
from tests.calibrate.practice import TRUE
from tests.once import once
from tests.stories import told
from tests.twin.rigs import MINUTES

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
    rig = load()
    with Shelf(folder / "filled.sqlite") as shelf:
        shelf.add_rig(rig.rig_id, rig.rig.name, rig.toml_text, rig.digest)
        segments = told(lives.segments, {**rig.plant(), **TRUE}, rig.settings(), cloudy(),
                        HOURS * 36000, gains=(), level_off=0.0)
        for stream, number, data in segments:
            shelf.put_segment(rig.rig_id, 0, stream, number, data)
        shelf.add_anchor(rig.rig_id, Anchor(0, 1, 0, 1.5e9, 0.05))
    return (folder / "filled.sqlite").read_bytes()
