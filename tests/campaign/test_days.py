"""Days are judged: a keeper that wastes what a day gives fails, and so do open books."""

import random
from functools import lru_cache

import pytest

from forebay.rig.protecting import specific_J_m3
from forebay.twin import faults
from keeper.operation import orders
from tests.campaign import days, expected, hazards, ideal, spoilt, waivers, weather
from tests.campaign.hazards import Found
from tests.campaign.scene import demo, staged, wishes_of
from tests.campaign.waiting import Waiting
from tests.campaign.wishes import BEGAN, PRESSED, Told
from tests.stories import told

# A clear day on which nobody presses the button: all of it is judged.  It lifts 640 L, and
# its light is wanted all night.
CLEAR = days.Day(44, with_faults=False, kind="clear", coarse=True, demo=True)
RIG = demo()[0]


@lru_cache(None)
def lived(spoil=None):
    return told(days.run, CLEAR._replace(spoil=spoil))


def test_a_sound_keeper_reaches_nine_tenths_of_an_ideal_ones_litres_and_light():
    sound = lived()
    assert sound.failures == ()
    assert sound.judged_s >= days.DAY_S
    # The bar is no empty one: this day has hundreds of litres and hours of light to give.
    assert sound.could.lifted_L > 500
    assert sound.could.lamp_J > 4 * 3600


@pytest.mark.parametrize(("spoil", "lacks"), [
    (spoilt.never_lights, "Wh of light"), (spoilt.half_the_light, "Wh of light"),
    (spoilt.never_pumps, "L were lifted"), (spoilt.half_the_tank, "L were lifted")])
def test_a_keeper_that_gives_nothing_or_half_fails(spoil, lacks):
    failures = lived(spoil).failures
    assert any(lacks in one for one in failures), failures


def test_a_keeper_that_rests_in_the_sun_or_in_the_dark_is_a_hazard_too():
    assert any("hazard idle" in one for one in lived(spoilt.never_pumps).failures)
    assert any("hazard dark" in one for one in lived(spoilt.never_lights).failures)


@pytest.mark.parametrize(("book", "booked"), [
    ("mass", lambda plant: setattr(plant, "inflow_m3", 1e-6)),
    ("energy", lambda plant: setattr(plant.down, "dump_J", plant.down.dump_J + 100.0))])
def test_a_wrong_booking_fails_the_day(monkeypatch, book, booked):
    whole = days.Life.stand

    def stand(self):
        whole(self)
        booked(self.twin.plant)

    monkeypatch.setattr(days.Life, "stand", stand)
    monkeypatch.setattr(days, "DAY_S", 1800)
    word = {"mass": "books of water", "energy": "books of energy"}[book]
    assert any(word in one for one in days.run(CLEAR).failures)


def test_an_element_that_acts_against_the_truth_fails_the_day():
    assert any(one.startswith("71H-LVL acted") for one in lived(spoilt.half_the_tank).failures)


def _life(fault):
    rig, _ = demo()
    twin = staged(0)
    return days.Life(twin, rig, fault)


def test_a_follower_counts_only_after_its_fault_and_within_its_time():
    life = _life("bearing-stiff")
    try:
        plant = life.twin.plant
        life._acts("14-PMP")
        assert "not expected" in life.wrong.pop()      # no fault yet
        life.fault_came()
        plant.time_s += expected.TRIAL_S - 1.0
        life._acts("14-PMP")
        assert life.wrong == []
        plant.time_s += expected.TRIAL_S + 1.0
        life._acts("48-PMP")
        assert "expected within" in life.wrong.pop()
        life._acts("37-PMP")                           # no reason is declared
        assert "not expected" in life.wrong.pop()
    finally:
        life.twin.close()


def test_each_follower_has_its_reason_and_an_element_of_its_own():
    for name, rows in expected.FOLLOWS.items():
        assert name in faults.NAMES
        named = [one.element for one in rows]
        assert len(set(named)) == len(named)
        assert expected.first_of(name) not in named
        for one in rows:
            assert len(one.why) > 20
            assert one.within_s > 0
    assert expected.GOES_ON <= set(faults.NAMES)


def found(size=1.0, lasted_s=1.0, mode="rest"):
    one = Found(0.0)
    one.size, one.lasted_s, one.modes = size, lasted_s, {mode}
    return one


@pytest.mark.parametrize(("fault", "hazard"), sorted(waivers.WAIVERS))
def test_a_waived_hazard_fails_beyond_its_size_its_time_and_its_modes(fault, hazard):
    row = waivers.rows_of(fault, hazard)[-1]     # the widest
    mode = row.modes[-1]
    just = found(row.most, row.longest_s, mode)
    assert waivers.judged({hazard: just}, fault) == []
    for beyond in (found(row.most * 1.01, row.longest_s, mode),
                   found(row.most, row.longest_s * 1.01, mode),
                   found(row.most, row.longest_s, "no such mode")):
        assert len(waivers.judged({hazard: beyond}, fault)) == 1
    assert len(waivers.judged({hazard: just}, "")) == 1
    assert hazard in hazards.NAMES
    assert set(row.modes) <= set(hazards.MODES)
    assert len(row.remains) > 10
    for one in fault.split(" + "):
        assert one in faults.NAMES


@pytest.mark.parametrize(("mode", "fails"), [("light", 1), ("drain", 0)])
def test_a_waiver_that_is_wider_in_one_mode_is_not_so_in_another(mode, fails):
    narrow = waivers.rows_of("generator-lead-open", "overspeed")[0]
    longer = found(1.0, narrow.longest_s * 1.01, mode)
    assert len(waivers.judged({"overspeed": longer}, "generator-lead-open")) == fails


def test_the_bounds_of_waivers_are_the_figures_of_the_rig_by_hand():
    figure = waivers.figures(demo()[0])
    # 2.1 mm of nozzle under 10.1 m: pi/4 x 2.1e-3^2 x sqrt(2 x 9.81 x 10.1) = 48.8 mL/s.
    assert figure["flow_L_s"] == pytest.approx(0.0488, rel=2e-3)
    assert figure["tank_L"] == 1000.0
    # Thermostat 70 degC, 26-MOT 55 degC and 3 K; in one second 4.5 A heat 120 J/K by 0.5 K.
    assert figure["hot_K"] == pytest.approx(12.5, abs=0.02)


def _waited(flows, run_s=30.0):
    """Waits that runs of a pump earn which lift these flows [m3/s] for so long."""
    twin = staged(0)
    try:
        waiting = Waiting(twin, RIG)
        plant = twin.plant
        for flow in flows:
            for _ in range(int(run_s)):
                plant.time_s += 1.0
                plant.pump_commanded, plant.up.flow = 1, flow
                waiting.follow()
            plant.time_s += 1.0
            plant.pump_commanded, plant.up.flow = 0, 0.0
            waiting.follow()
        return [round(to - since) for since, to in waiting.spans]
    finally:
        twin.close()


def test_a_weak_start_earns_a_wait_that_doubles_and_a_strong_one_none():
    assert _waited([10e-6] * 7) == [60, 120, 240, 480, 960, 1920, 1920]
    assert _waited([50e-6] * 3) == []
    assert _waited([10e-6, 10e-6, 10e-6], run_s=150.0) == [60, 60, 60]
    assert _waited([10e-6, 10e-6, 10e-6], run_s=110.0) == [60, 120, 240]


def _wishes():
    return wishes_of(*demo())


def _night(wishes, seconds=301.0):
    wishes.pass_time(seconds, seconds, True, 300.0)
    return wishes


def test_light_is_wanted_at_dusk_by_order_and_not_in_a_rest_or_a_drain():
    assert _wishes().light_W(0.0) == 0.0
    wishes = _night(_wishes())
    assert wishes.light_W(400.0) == 0.6
    for order in ((orders.REST, 1, 0), (orders.DRAIN_DOWN, 1, 1), (orders.MAINTAIN, 2, 0)):
        wishes = _night(_wishes())
        wishes.tell(Told(400.0, *order))
        assert wishes.light_W(401.0) == 0.0, order
        assert wishes.pump(401.0) is False
    wishes = _wishes()
    wishes.tell(Told(0.0, orders.LIGHT, 300, 2))
    assert [wishes.light_W(at) for at in (0.0, 119.0, 121.0)] == [0.3, 0.3, 0.0]


def test_after_a_press_nobody_can_say_what_is_wanted_until_it_is_day_again():
    wishes = _night(_wishes())
    wishes.tell(Told(400.0, PRESSED))
    assert wishes.light_W(4500.0) is None
    wishes.pass_time(5000.0, 301.0, False, 300.0)
    assert wishes.light_W(5000.0) == 0.0


def test_a_board_that_begins_anew_knows_no_order():
    wishes = _wishes()
    wishes.tell(Told(0.0, orders.DRAIN_DOWN, 1, 60))
    wishes.tell(Told(0.0, orders.PUMP_ALLOWED, 0, 60))
    assert wishes.drains(1.0)
    assert not wishes.pump(1.0)
    wishes.tell(Told(2.0, BEGAN))
    assert not wishes.drains(3.0)
    assert wishes.pump(3.0)


def test_the_ideal_keepers_light_of_a_litre_is_the_rigs_own_formula():
    # The formula closes Euler's equation by hand; the curve lets the twin's wheel settle.
    curve = ideal.curve_of(RIG)
    for power_W in RIG["lamps.steps_W"]:
        assert power_W / curve.flow_m3_s(power_W) == pytest.approx(
            specific_J_m3(RIG, power_W), rel=5e-3)


def test_an_ideal_keeper_fills_the_tank_of_a_clear_day_and_never_beyond():
    sun = weather.day(random.Random(1), "clear", 14.0)
    rig, settings = demo({"upper.start_volume_m3": 0.06, "lower.start_volume_m3": 1.25})
    given = ideal.Ideal(rig, sun, wishes_of(rig, settings), ()).run(days.DAY_S / 2)
    # 71H-UP lifts at 960 L: 900 L, and what the step at dusk or dawn has let down.
    assert 900.0 <= given.lifted_L < 1000.0
