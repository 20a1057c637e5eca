"""Each task of past days, on a simulated day whose rig is not as its description says."""

import contextlib

import numpy as np
import pytest

from forebay.asking import Kept
from forebay.calibrate import work
from forebay.calibrate.past import Past
from forebay.calibrate.sitting import CalibrateError, Sitting
from forebay.calibrate.tasks import leak
from forebay.shelf import Shelf
from forebay.shelf.rows import Rows
from keeper import channels as ch
from keeper import modes
from tests.calibrate import resting
from tests.calibrate.practice import ASSUMED, DEMO, TRUE, Hands
from tests.stories import told
from tests.twin.rigs import steady, twin

ROW_S = 10
HOURS = 5

@pytest.fixture(scope="module")
def day(shelf_path):
    """Gives (past, hands) of the day on the shelf."""
    with Shelf(shelf_path, create=False) as shelf:
        past, of = work.past_of(shelf, DEMO, None)
    assert not of.is_practice
    hands = Hands.__new__(Hands)
    hands.asked, hands.told, hands.leave_at = [], [], None
    return past, hands


def rested(leak_m3_s):
    """Returns rows of ROW_S means of a rig at rest, as the keeper's scans read them."""
    count = HOURS * 3600 // ROW_S
    rows = Rows.empty(count)
    rows.boot[:] = 1
    rows.scans[:] = ROW_S * 10
    rows.contacts[:] = 0
    for row, (uptime_ds, state, means) in enumerate(
            told(resting.rows, leak_m3_s, count, ROW_S * 10)):
        rows.uptime_ds[row] = uptime_ds
        rows.state[row] = state
        rows.stored[:, row] = [round(mean * channel[ch.CH_STEP_DEN] / channel[ch.CH_STEP_NUM])
                               for mean, channel in zip(means, ch.CHANNELS, strict=True)]
    rows.seq[:] = np.arange(count) + 1
    return Past.of(rows)


def found(day, folder, task, given=()):
    past, hands = day
    hands.given = dict(given)
    return work.found(task, Sitting(ASSUMED, hands, Kept(folder / "kept.json"), hands.told.append,
                                    past=past))


def test_a_filling_tells_how_wide_the_tank_is(day, tmp_path):
    width, = found(day, tmp_path, "tank").figures
    assert width.place == "upper.width"
    assert abs(width.value - TRUE["upper.width_m"]) < 2 * width.u


def filled(levels_mm, flow_uL_s=40_000):
    """Returns an hour of pumping in which the level reads so."""
    count = len(levels_mm)
    rows = Rows.empty(count)
    rows.boot[:] = 1
    rows.scans[:] = 36000 // count
    rows.uptime_ds[:] = np.cumsum(rows.scans)
    rows.state[:] = modes.PUMPING
    rows.seq[:] = np.arange(count) + 1
    for place, values in ((ch.LEVEL_MM, levels_mm), (ch.FLOW_UP, [flow_uL_s] * count)):
        channel = ch.CHANNELS[place]
        rows.stored[place] = [round(one * channel[ch.CH_STEP_DEN] / channel[ch.CH_STEP_NUM])
                              for one in values]
    return Past.of(rows)


RISES = np.linspace(200, 600, 120)


@pytest.mark.parametrize(("levels_mm", "said"), [
    # A level that sinks for a third of the filling; one that rises to twice the tank's height.
    (np.interp(np.arange(120), [0, 60, 100, 119], [200, 500, 350, 600]), "does not rise all"),
    (np.linspace(200, 2e3 * DEMO.upper.height_m, 120), "goes beyond the tank"),
    (np.full(120, 400.0), "no filling of half an hour"),
])
def test_a_filling_that_is_none_is_refused_and_says_why(day, tmp_path, levels_mm, said):
    hands = day[1]
    found((filled(RISES), hands), tmp_path, "tank")
    with pytest.raises(CalibrateError, match=said):
        found((filled(levels_mm), hands), tmp_path / "again", "tank")


def test_rows_of_pumping_tell_the_pumps_curve(day, tmp_path):
    total_L = 1e3 * (DEMO.upper.start_volume_m3 + DEMO.lower.start_volume_m3) + 90
    head, rated = found(day, tmp_path, "pump", {
        "water_in_all": f"{total_L} L", "water_in_all_u": "30 L"}).figures
    assert abs(head.value - TRUE["pump.shut_off_head_m"]) < 2 * head.u
    assert abs(rated.value - DEMO.pump.rated_head_m) < 2 * rated.u
    assert head.u < head.before_u


def test_what_is_found_less_surely_than_it_is_known_stands_and_is_said(day, tmp_path):
    past, hands = day
    hands.given = {}
    outcome = work.found("tank", Sitting(DEMO, hands, Kept(tmp_path / "kept"),
                                         hands.told.append, past=past))
    assert outcome.changes() == {}
    assert any("upper.width stands" in one and "apart" in one for one in outcome.notes)


def test_one_run_tells_the_motors_heat(day, tmp_path):
    outcome = found(day, tmp_path, "motor")
    for one in outcome.figures:
        name = {"motor.heat_capacity": "motor.heat_capacity_J_K"}.get(one.place,
                                                                      f"{one.place}_K_W")
        assert abs(one.value - TRUE[name]) < 2 * one.u, one


def test_a_leak_is_told_and_none_where_there_is_none(tmp_path):
    for leak_L_h, is_seen in ((0.0, False), (3.0, True)):
        folder = tmp_path / str(leak_L_h)
        folder.mkdir()
        hands = Hands(twin(folder, steady(0.0)))
        outcome = found((rested(leak_L_h / 3.6e6), hands), folder, "leak")
        said = dict(outcome.told)["lost at rest"]
        assert ("more than its error" in said) == is_seen, said
        assert abs(float(said.split()[0]) - leak_L_h) < 0.5


@pytest.mark.parametrize("task", ["tank", "pump", "motor", "leak"])
def test_days_that_hold_nothing_are_told(tmp_path, task):
    past = Past.of(Rows.empty(0))
    hands = Hands.__new__(Hands)
    hands.asked, hands.told, hands.leave_at = [], [], None
    hands.given = {"water_in_all": "1 m3", "water_in_all_u": "10 L"}
    with pytest.raises(CalibrateError):
        found((past, hands), tmp_path, task, hands.given)
    with contextlib.suppress(FileNotFoundError):
        (tmp_path / "kept.json").unlink()
    with pytest.raises(CalibrateError, match="no past days|water"):
        found((None, hands), tmp_path, task, hands.given)


def test_a_level_that_reads_the_same_all_along_is_known_to_its_step_and_no_better():
    """A rest without any scatter was once known to 2e-15 L/h.  By hand: 1 m2 that may have sunk
    by 1 mm, each end within a rectangle of so much: 1 L x sqrt(2/12) in two hours."""
    same, moved = np.full(720, 0.4), np.linspace(0.4, 0.402, 720)
    assert leak.least_u(same, 7200.0, 1.0, 0.001) == pytest.approx((2 / 12) ** 0.5 / 2, rel=1e-6)
    assert leak.least_u(moved, 7200.0, 1.0, 0.001) == 0.0
