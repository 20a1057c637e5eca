"""Water without a level: true at the floats, reckoned between them, unknown and never zero."""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from keeper.operation.night import LESSONS, Night
from keeper.operation.reckoned import LEARNT_PERMILLE, METERED_PERMILLE, UNKNOWN, Reckoned
from keeper.protection.volumes import Volumes
from tests.keeper.scripted import NUMBERS, settings_with

N = dict(NUMBERS)
SUNK_ML, FULL_ML, SPARE_ML = N["full_sure_mL"], N["volume_16_mL"], N["spare_mL"]
HALF_W = N["specific_4_mJ_L"]      # 500 mW of 1000 is the fourth of eight points
HOUR_S = 3600
LACKS = (ch.LEVEL_MM, ch.FLOW_UP, ch.FLOW_DOWN)


class Tank:
    """A reckoning that is looked at every second; totals as a rig would have them."""

    def __init__(self, has=(), **changes):
        fitted = ch.ALL_FITTED
        for place in LACKS:
            if place not in has:
                fitted &= ~(1 << place)
        settings = settings_with([("fitted", fitted), *changes.items()])
        self.night = Night(settings, Volumes(settings))
        self.water = Reckoned(settings, self.night)
        self.values = [0] * ch.READ
        self.floats(full=False, dry=False)
        self.ds = 0
        self.totals = [0, 0, 0]
        self.over = False
        self.go(mo.STANDSTILL, 10)

    def floats(self, full=None, dry=None):
        if full is not None:
            self.values[ch.C_71H_UP] = 0 if full else 1
        if dry is not None:
            self.values[ch.C_71L_UP] = 0 if dry else 1

    def go(self, state, seconds, mW=0, down_uL_s=0, up_uL_s=0):
        told = False
        for _ in range(seconds):
            self.ds += 10
            for place, rate in enumerate((mW, down_uL_s, up_uL_s)):
                self.totals[place] += rate
            told |= self.water.follow(self.values, state, self.ds, self.over, *self.totals)
        return told

    def fill(self):
        self.floats(dry=False)
        self.go(mo.PUMPING, 10_000)    # at most 100 mL/s
        self.floats(full=True)
        self.go(mo.STANDSTILL, 1)

    def sink(self):
        self.fill()
        self.floats(full=False)
        self.go(mo.RUNNING, 1)

    @property
    def bounds(self):
        return self.water.low_mL, self.water.high_mL


def test_at_a_start_nobody_knows_and_nothing_is_read_as_zero():
    tank = Tank()
    tank.go(mo.PUMPING, HOUR_S)
    tank.go(mo.RUNNING, HOUR_S, mW=500)
    assert not tank.water.is_known()
    assert tank.bounds == (UNKNOWN, UNKNOWN)


def test_a_contact_that_has_just_been_switched_on_is_not_believed():
    """It reads open, so full, till it was looked at a few times; then it hung."""
    tank = Tank()
    tank.water.__init__(tank.night.settings, tank.night)
    tank.ds = 0
    tank.floats(full=True)
    tank.go(mo.CLOSING, 3)
    tank.floats(full=False)
    tank.go(mo.CLOSING, 30)
    assert not tank.water.is_known()


def test_a_float_makes_it_known_and_says_so_once():
    tank = Tank()
    tank.floats(full=True)
    assert tank.go(mo.STANDSTILL, 1)
    assert not tank.go(mo.STANDSTILL, 20)
    # From where the float hangs again, to full and all that no low float keeps back.
    assert tank.bounds == (SUNK_ML, FULL_ML + SPARE_ML)
    tank.floats(full=False)
    tank.go(mo.RUNNING, 1)
    assert tank.bounds == (SUNK_ML, SUNK_ML + SPARE_ML)
    tank.floats(dry=True)
    tank.go(mo.CLOSING, 1)
    assert tank.bounds == (0, 0)
    assert tank.water.is_known()


def test_light_takes_what_the_curve_says_more_and_less():
    """0.5 W for an hour: 1800 J over the point's J/L; the low bound takes 14 % more."""
    tank = Tank()
    tank.sink()
    tank.go(mo.RUNNING, HOUR_S, mW=500)
    used_mL = 500 * HOUR_S * 1000 / HALF_W
    low, high = tank.bounds
    # To the whole mL each ten seconds; the last ten are not reckoned up yet.
    assert SUNK_ML - low == pytest.approx(1.14 * used_mL, rel=0.005)
    assert SUNK_ML + SPARE_ML - high == pytest.approx(0.86 * used_mL, rel=0.005)
    assert tank.water.sure_mL() == low * 860 // 1000
    assert tank.water.most_mL() == high * 1140 // 1000


def test_where_a_flow_meter_is_it_counts():
    tank = Tank(has=(ch.FLOW_DOWN,))
    tank.sink()
    tank.go(mo.RUNNING, 1000, mW=1, down_uL_s=30_000)
    low, high = tank.bounds
    assert SUNK_ML - low == pytest.approx(30_000 * 1.04, rel=0.02)
    assert SUNK_ML + SPARE_ML - high == pytest.approx(30_000 * 0.96, rel=0.02)


def test_what_a_pump_lifts_is_surely_there_only_by_a_meter():
    tank = Tank()
    tank.floats(dry=True)
    tank.go(mo.STANDSTILL, 1)
    tank.floats(dry=False)
    tank.go(mo.PUMPING, 100)
    assert tank.bounds[0] == 0
    assert tank.bounds[1] == pytest.approx(100 * N["lift_most_uL_s"] / 1000, rel=0.11)
    tank.go(mo.PUMPING, 100_000)
    assert tank.bounds == (0, FULL_ML + SPARE_ML)
    metered = Tank(has=(ch.FLOW_UP,))
    metered.floats(dry=True)
    metered.go(mo.STANDSTILL, 1)
    metered.floats(dry=False)
    metered.go(mo.PUMPING, 1000, up_uL_s=50_000)
    assert metered.bounds == (pytest.approx(48_000, rel=0.02), pytest.approx(52_000, rel=0.02))


def test_a_tank_that_drains_unmetered_has_surely_nothing():
    tank = Tank()
    tank.fill()
    tank.floats(full=False)
    tank.go(mo.DRAINING, 30)
    low, high = tank.bounds
    assert low == 0
    assert high > 0


def test_dark_lamps_behind_an_open_valve_may_cost_as_much_as_the_full_light():
    tank = Tank()
    tank.sink()
    tank.go(mo.RUNNING, HOUR_S)
    low, high = tank.bounds
    assert SUNK_ML - low == pytest.approx(1.14 * 1000 * HOUR_S * 1000 / N["specific_8_mJ_L"],
                                          rel=0.01)
    assert high == SUNK_ML + SPARE_ML
    assert tank.water.given_mL == UNKNOWN  # so it teaches nothing


def test_a_float_lifted_over_less_water_than_lifts_it_is_doubted_till_it_has_sunk():
    tank = Tank()
    tank.floats(dry=True)
    tank.go(mo.STANDSTILL, 1)
    tank.floats(dry=False, full=True)      # a cut wire reads so
    tank.go(mo.STANDSTILL, 100)
    assert not tank.water.is_known()
    tank.floats(full=False)
    tank.go(mo.STANDSTILL, 10)
    assert not tank.water.is_known()
    tank.fill()
    assert tank.water.is_known()


def test_a_float_that_stays_up_while_the_light_takes_its_water_is_doubted():
    tank = Tank()
    tank.fill()
    tank.go(mo.RUNNING, 16 * HOUR_S, mW=500)
    assert not tank.water.is_known()


# What an evening teaches

def evening(tank, energy_frac, last=mo.CLOSING):
    """From the float to the end of the water, by a rig that gives so much of what is reckoned."""
    tank.sink()
    seconds = int(SUNK_ML / 1000 * HALF_W * energy_frac / 500)
    tank.go(mo.RUNNING, seconds, mW=500)
    tank.over = True
    tank.go(last, 1)
    tank.over = False


@pytest.mark.parametrize("frac", [0.8, 1.0, 1.25])
def test_an_evening_from_float_to_end_scales_the_whole_curve(frac):
    tank = Tank()
    before = list(tank.night.curve)
    evening(tank, frac)
    for value, told in zip(tank.night.curve, before, strict=True):
        assert value == pytest.approx(told * frac, rel=0.005)
    assert tank.bounds == (0, 0)
    # It is known better from now on, and what no low float keeps back is in the curve.
    tank.fill()
    assert tank.bounds == (SUNK_ML, FULL_ML)
    assert tank.water.sure_mL() == SUNK_ML * (1000 - LEARNT_PERMILLE) // 1000


def test_a_later_evening_counts_half():
    tank = Tank()
    before = tank.night.curve[3]
    evening(tank, 1.0)
    evening(tank, 1.2 * tank.night.curve[3] / before)
    assert tank.night.curve[3] == pytest.approx(1.1 * before, rel=0.01)


@pytest.mark.parametrize(("frac", "bound"), [(0.1, 0.5), (3.0, 2.0)])
def test_no_evening_moves_the_curve_beyond_its_bounds(frac, bound):
    tank = Tank()
    before = list(tank.night.curve)
    evening(tank, frac)
    evening(tank, frac)      # one that ends so early counts only when it comes again
    evening(tank, frac)
    assert tank.night.curve == [pytest.approx(bound * told, abs=1) for told in before]


def test_a_light_that_ends_with_water_surely_left_teaches_nothing_at_first():
    """A clogged nozzle ended it after a tenth of the tank: the promise was halved from then on."""
    tank = Tank()
    before = list(tank.night.curve)
    evening(tank, 0.1)
    assert tank.night.curve == before
    low, high = tank.bounds
    assert low == 0
    assert high > SUNK_ML // 2
    evening(tank, 1.0)
    assert tank.night.curve == [pytest.approx(told, rel=0.01) for told in before]


def test_a_tank_that_ends_early_time_and_again_is_believed():
    """A description that is off by more than its uncertainty."""
    tank = Tank()
    before = list(tank.night.curve)
    evening(tank, 0.6)
    assert tank.night.curve == before
    evening(tank, 0.6)
    assert tank.night.curve == [pytest.approx(0.6 * told, rel=0.01) for told in before]


def test_a_low_float_that_hangs_dry_is_an_end_whatever_was_reckoned():
    tank = Tank()
    tank.sink()
    tank.go(mo.RUNNING, HOUR_S, mW=500)
    tank.floats(dry=True)
    tank.go(mo.CLOSING, 1)
    assert tank.bounds == (0, 0)


@pytest.mark.parametrize("between", [mo.PUMPING, mo.TRIAL, mo.DRAINING])
def test_an_evening_with_water_that_nobody_counted_teaches_nothing(between):
    tank = Tank()
    before = list(tank.night.curve)
    tank.sink()
    tank.go(mo.RUNNING, HOUR_S, mW=500)
    tank.go(between, 30)
    tank.go(mo.RUNNING, HOUR_S, mW=500)
    tank.over = True
    tank.go(mo.CLOSING, 1)
    assert tank.night.curve == before
    assert tank.night.lessons == 0


def test_a_metered_curve_is_not_scaled_and_stays_as_uncertain_as_meter_and_tank():
    tank = Tank(has=(ch.FLOW_DOWN,))
    before = list(tank.night.curve)
    tank.sink()
    tank.go(mo.RUNNING, HOUR_S, mW=500, down_uL_s=20_000)
    tank.floats(dry=True)
    tank.go(mo.CLOSING, 1)
    assert tank.night.curve == before
    for _ in range(LESSONS):
        tank.night.learn(900, 450_000, 28_000)
    tank.floats(dry=False)
    tank.water.restore(500_000, 500_000)
    assert tank.water.sure_mL() == 500_000 * (1000 - METERED_PERMILLE) // 1000


# What a restart finds

class Sequence:
    def __init__(self, state, start_mark=0):
        self.state = state
        self.start_mark = start_mark


@pytest.mark.parametrize(("sequence", "kept"), [
    (Sequence(mo.STANDSTILL), (300, 500)),
    (Sequence(mo.MAINTENANCE), (300, 500)),
    (Sequence(mo.RUNNING), (0, 500)),         # its valve may stay open
    (Sequence(mo.CLOSING), (0, 500)),
    (Sequence(mo.DRAINING), (0, 500)),
    (Sequence(mo.PUMPING), (300, FULL_ML + SPARE_ML)),
    (Sequence(mo.STANDSTILL, 1), (300, FULL_ML + SPARE_ML)),  # a start is being marked
])
def test_what_is_kept_holds_however_long_the_power_is_away(sequence, kept):
    tank = Tank()
    tank.water.restore(300, 500)
    assert tank.water.kept(sequence) == kept


def test_what_is_unknown_is_kept_as_unknown():
    assert Tank().water.kept(Sequence(mo.STANDSTILL)) == (UNKNOWN, UNKNOWN)


@pytest.mark.parametrize("kept", [(-1, -1), (5, 4), (-1, 4), (0, FULL_ML + SPARE_ML + 1)])
def test_what_cannot_be_is_not_restored(kept):
    tank = Tank()
    tank.water.restore(*kept)
    assert not tank.water.is_known()
