"""A meter that is off by three of its uncertainties: seen in the balance, calibrated, gone."""

import math

import pytest

from forebay.asking import Kept
from forebay.balance.compute import balance_of
from forebay.calibrate import work, writing
from forebay.calibrate.sitting import Sitting
from forebay.rig import load, load_text
from forebay.shelf import Anchor, Clock
from forebay.shelf.decode import decode
from forebay.twin.twin import Twin
from keeper import channels as ch
from keeper import settings as st
from keeper.journal.opening import open_journal
from tests import lives
from tests.calibrate.practice import Hands
from tests.stories import told
from tests.twin.rigs import MINUTES, PUMPING

DEMO = load()
SUN_MIN, HOURS = 190, 4.5
HIGH = 1.06    # 3 u of 2 %
SUN = ([850.0 if one < SUN_MIN else 0.0 for one in range(MINUTES)], [35.0] * MINUTES,
       [14.0] * MINUTES)


# The plant is what it is, whatever the description says of its meters.
PLANT = {**DEMO.plant(), "upper.start_volume_m3": 0.08}
GAINS = ((ch.FLOW_UP, HIGH),)


def day_of(folder):
    """Returns a twin of the demo, one of whose meters is off."""
    one = Twin(PLANT, DEMO.settings(), SUN, lambda: open_journal(
        str(folder), DEMO.rig_id, st.VERSION))
    lives.true_meters(one.sensors, GAINS)
    return one


def lived(rig):
    """Returns the segments of a day whose board has the settings of a description."""
    return told(lives.segments, PLANT, rig.settings(), SUN, round(HOURS * 36000), gains=GAINS)


def balanced(segments, rig):
    journal = decode(data for _, _, data in segments)
    return balance_of(journal, Clock([Anchor(0, 1, 0, 1.5e9, 0.05)]), rig)


def closure_of(balance):
    """Returns what the filling leaves open."""
    assert balance.blame is not None
    return balance.blame.closures["fill"]


@pytest.fixture(scope="module")
def before():
    segments = lived(DEMO)
    return balanced(segments, DEMO), segments


def test_a_meter_three_u_off_is_calibrated_and_the_water_closes_again(before, tmp_path):
    closed = closure_of(before[0])
    assert closed.value > 2 * closed.u
    one = day_of(tmp_path / "practice")
    hands = Hands(one, {"bucket_frac": "0.2 %", "bucket_reading": "20 mL", "*_buckets": "4"})
    hands.until(PUMPING)
    sitting = Sitting(DEMO, hands, Kept(tmp_path / "kept"), hands.told.append, hands)
    outcome = work.found("flow", sitting)
    up = outcome.figures[0]
    assert up.moved_u > 2.5
    calibrated = writing.proposed(DEMO, outcome)
    after = balanced(lived(calibrated), calibrated)
    again = closure_of(after)
    assert abs(again.value) < 2 * again.u
    # All else stays as it was, on volumes that differ by the 6 % that the meter was off.
    others_u = (closed.u**2 - closed.parts["FI-UP"]**2) ** 0.5
    assert again.u == pytest.approx(math.hypot(others_u, again.parts["FI-UP"]), rel=0.06)
    assert again.u < closed.u
    # As stated: what falls is the meter's own part.
    meters = {name: part for name, part in again.parts.items() if name == "FI-UP"}
    assert abs(meters["FI-UP"]) == pytest.approx(
        outcome.changes()["sensors.flow_frac"] * after.water["up"].value, rel=0.02)


def test_a_voltage_factor_puts_the_same_days_energies_right(before):
    balance, segments = before
    text = DEMO.toml_text.replace("[sensors]", "[sensors]\npanel_voltage_factor = 0.985")
    right = balanced(segments, load_text(text, "demo"))
    for name in ("panel", "pump"):
        assert right.energies[name].value == pytest.approx(
            0.985 * balance.energies[name].value, rel=1e-5)
    assert right.energies["lamps"].value == balance.energies["lamps"].value
    assert right.water["up"].value == balance.water["up"].value
