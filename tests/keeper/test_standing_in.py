"""What a rig with fewer instruments is judged by, each by a case worked out by hand.

The settings are those of `scripted`: time constants of 60 s cooled and 600 s in still air,
40 degC for a working motor, 3 K a minute by its losses, water at most 26 and air 50 degC.
"""

import pytest

from keeper import channels as ch
from keeper import modes as mo
from keeper import settings as st
from keeper.protection import derived as dv
from keeper.protection import elements as el
from keeper.protection.judging import is_fitted, judges, stands_in
from keeper.protection.standing_in import JUMP_MDEGC, SOAK_S, WINDOW_S, StandIns
from tests.keeper.scripted import HEALTHY, Bench, settings_with
from tests.keeper.ways import SUN, WATER, until

SECOND = 10   # scans
# Motor, lamps' meter, full float, lower float, button: the least that can be kept safe.
LEAST = sum(1 << place for place in (ch.MOTOR_MDEGC, ch.GENERATOR_MV, ch.LAMP_MA, ch.C_71H_UP,
                                     ch.C_71L_LO, ch.BUTTON))
IDS = {row[el.E_ID]: index for index, row in enumerate(el.ELEMENTS)}


class Rig:
    """The values of a rig with less, second by second."""

    def __init__(self, fitted=LEAST, **changes):
        self.one = StandIns(settings_with([("fitted", fitted), *changes.items()]),
                            [0] * ch.COLUMNS)
        self.values = [0] * dv.VALUES
        for place, value in HEALTHY:
            self.values[place] = value
        for place in range(ch.FITTABLE):
            if not fitted >> place & 1:
                self.values[place] = ch.INVALID
        self.state = mo.STANDSTILL

    def live(self, seconds=1, motor_mK_s=0, **reads):
        """Passes some seconds; reads: places by name. Returns the values."""
        for name, value in reads.items():
            self.values[getattr(ch, name)] = value
        for _ in range(seconds):
            self.values[ch.MOTOR_MDEGC] += motor_mK_s
            for _ in range(SECOND):
                self.one.fill(self.values, self.state, 1)
        return self.values

    def pumps(self, on=1):
        self.one.pump_on = on
        self.state = mo.PUMPING if on else mo.STANDSTILL
        return self

    def lights(self, told=500):
        self.one.commanded = told
        self.state = mo.RUNNING if told else mo.STANDSTILL
        return self


# Which rows a rig has

def test_a_rig_with_everything_has_none_of_them():
    assert not stands_in(ch.ALL_FITTED)
    spared = {el.ELEMENTS[index][el.E_ID] for index in range(len(el.ELEMENTS))
              if not judges(index, ch.ALL_FITTED)}
    assert spared == {name for name, _ in el.STAND_INS}
    # What it had is there as before: up to the first of them nothing changed its place.
    assert min(IDS[name] for name in spared) == 51


@pytest.mark.parametrize(("name", "places"), el.STAND_INS)
def test_each_is_there_exactly_where_what_it_stands_in_for_is_not(name, places):
    others = [group for one, group in el.STAND_INS if one == name and group != places]
    bits = ch.ALL_FITTED
    for group in others:
        bits &= ~(1 << group[0])
    assert not judges(IDS[name], bits)
    for place in places:
        without = bits & ~(1 << place)
        assert judges(IDS[name], without) == is_fitted(
            int(el.ELEMENTS[IDS[name]][el.E_VALUE]), without)


# Warmth

def test_a_motor_may_be_as_warm_as_its_water_makes_it_and_no_warmer():
    rig = Rig().pumps()
    # It began as warm, and may read 3 K more, less their share of a second of 180.
    assert rig.live(MOTOR_MDEGC=40000)[dv.TOO_WARM_MDEGC] == -2985
    rig = Rig().pumps()
    rig.live(MOTOR_MDEGC=20000)
    assert rig.live(MOTOR_MDEGC=40001)[dv.TOO_WARM_MDEGC] == 1
    assert rig.live(MOTOR_MDEGC=ch.INVALID)[dv.TOO_WARM_MDEGC] == ch.INVALID


def test_a_motor_that_was_warm_as_it_began_has_three_time_constants_to_cool():
    """52 degC and 3 K of lag: 15 K too much; after 90 of 180 s half of it."""
    rig = Rig().pumps()
    rig.live(90, MOTOR_MDEGC=52000)
    assert rig.values[dv.TOO_WARM_MDEGC] == 52000 - 47500
    rig.live(90)
    assert rig.values[dv.TOO_WARM_MDEGC] == 12000


def test_a_turning_motor_warms_by_its_losses_and_its_water_alone():
    """From 20 degC: 3 K by losses and 6 K by water of 26 degC; 200 mK/s make 12 K."""
    rig = Rig().pumps()
    rig.live(5, MOTOR_MDEGC=20000)
    assert rig.live(WINDOW_S - 5, motor_mK_s=200)[dv.HEATS_MDEGC] == 0   # not a minute yet
    rig.live(5, motor_mK_s=200)
    assert rig.values[dv.HEATS_MDEGC] == 12000 - 9000


def test_a_reading_that_jumps_is_no_warming_and_a_new_run_begins_anew():
    rig = Rig().pumps()
    rig.live(WINDOW_S + 1, MOTOR_MDEGC=20000)
    assert rig.live(MOTOR_MDEGC=20000 + JUMP_MDEGC)[dv.HEATS_MDEGC] == 0
    rig.live(WINDOW_S, motor_mK_s=500)
    assert rig.values[dv.HEATS_MDEGC] > 0
    rig.pumps(0).live()
    assert rig.values[dv.HEATS_MDEGC] == rig.values[dv.TOO_WARM_MDEGC] == 0


def test_a_resting_motor_warms_by_the_air_alone():
    """From 20 degC: a tenth of 30 K to the hottest air in a minute, and 0.3 K of noise."""
    rig = Rig()
    rig.live(SOAK_S + WINDOW_S, MOTOR_MDEGC=20000)
    rig.live(WINDOW_S, motor_mK_s=60)
    assert rig.values[dv.WARMS_MDEGC] == 3600 - 3300
    fresh = Rig()
    fresh.pumps(1).live()
    fresh.pumps(0).live(SOAK_S - 1, motor_mK_s=60)
    assert fresh.values[dv.WARMS_MDEGC] == 0     # its winding evens out


# A fill that does not come

def test_pumping_counts_in_good_sun_until_water_shows():
    rig = Rig(LEAST | 1 << ch.PANEL_MV).pumps()
    rig.live(30, PANEL_MV=20000)
    assert rig.values[dv.FILLING_S] == 30
    rig.live(30, PANEL_MV=19999)
    assert (rig.values[dv.FILLING_S], rig.values[dv.UNFILLED_MIN]) == (30, 1)
    rig.live(1, C_71H_UP=0)
    assert rig.values[dv.FILLING_S] == rig.values[dv.UNFILLED_MIN] == 0


def test_a_level_that_rises_shows_it_too():
    rig = Rig(LEAST | 1 << ch.PANEL_MV | 1 << ch.LEVEL_MM).pumps()
    rig.live(30, PANEL_MV=20000, LEVEL_MM=400)
    assert rig.values[dv.FILLING_S] == 30
    rig.live(60, LEVEL_MM=400 + dv.JUDGED_MM + 2)
    assert rig.values[dv.FILLING_S] < 60
    rig.live(40)
    assert rig.values[dv.FILLING_S] >= 40


def test_lit_lamps_show_it_and_a_retry_has_its_own_time():
    rig = Rig(LEAST | 1 << ch.PANEL_MV, fill_most_s=700).pumps()
    rig.live(701, PANEL_MV=20000)
    assert rig.values[dv.FILLING_S] == 701
    rig.pumps(0).live(2)
    rig.pumps().live(1)
    assert rig.values[dv.FILLING_S] == 101
    rig.pumps(0).lights().live(1, GENERATOR_MV=3000)
    assert rig.values[dv.FILLING_S] == 0


# Dark lamps

def test_dark_lamps_are_an_empty_tank_unless_it_was_seen_full():
    rig = Rig().lights()
    rig.live(1, GENERATOR_MV=0)
    assert (rig.values[dv.SPENT], rig.values[dv.NO_VOLTS]) == (500, 0)
    rig = Rig()
    rig.live(1, C_71H_UP=0)
    rig.lights().live(1, GENERATOR_MV=0, C_71H_UP=1)
    assert (rig.values[dv.SPENT], rig.values[dv.NO_VOLTS]) == (0, 500)


def test_a_light_that_was_there_and_goes_out_has_spent_the_water():
    rig = Rig()
    rig.live(1, C_71H_UP=0)
    rig.lights().live(5, GENERATOR_MV=3000, C_71H_UP=1)
    assert rig.values[dv.SPENT] == 0
    rig.live(1, GENERATOR_MV=999)
    assert (rig.values[dv.SPENT], rig.values[dv.NO_VOLTS]) == (500, 0)
    rig.lights(0).live(1)
    rig.lights().live(1)        # and so it is at the next try
    assert rig.values[dv.SPENT] == 500


def test_a_wheel_that_runs_out_without_water_is_no_fault_of_a_flow():
    """2 V, no flow and no lamp that takes anything; lit lamps make it the meter's fault."""
    rig = Rig(LEAST | 1 << ch.FLOW_DOWN)
    rig.lights().live(1, GENERATOR_MV=3000, LAMP_MA=50, FLOW_DOWN=20000)
    rig.live(1, GENERATOR_MV=2000, LAMP_MA=4, FLOW_DOWN=0)
    assert (rig.values[dv.SPENT], rig.values[dv.NO_FLOW_DOWN]) == (500, 0)
    rig.live(1, LAMP_MA=5)
    assert (rig.values[dv.SPENT], rig.values[dv.NO_FLOW_DOWN]) == (0, 500)


def test_a_light_that_goes_out_under_a_float_that_hangs_up_was_there_all_the_same():
    rig = Rig()
    rig.live(1, C_71H_UP=0)
    rig.lights().live(5, GENERATOR_MV=3000)
    rig.live(1, GENERATOR_MV=999)
    assert (rig.values[dv.SPENT], rig.values[dv.NO_VOLTS]) == (500, 0)


@pytest.mark.parametrize("place", [ch.C_71L_UP, ch.LEVEL_MM])
def test_where_something_reads_the_water_no_light_is_a_fault(place):
    rig = Rig(LEAST | 1 << place).lights()
    rig.values[place] = 1
    rig.live(1, GENERATOR_MV=0)
    assert (rig.values[dv.SPENT], rig.values[dv.NO_VOLTS]) == (0, 500)


# The full float

def test_a_float_that_falls_soon_tells_a_leak():
    rig = Rig()
    rig.live(100, C_71H_UP=0)
    assert rig.live(1, C_71H_UP=1)[dv.FELL_EARLY_S] == 10000 - 100
    rig.lights().live(1)
    assert rig.values[dv.FELL_EARLY_S] == 0


def test_a_float_that_flickers_or_is_let_down_tells_none():
    rig = Rig()
    rig.live(59, C_71H_UP=0)
    assert rig.live(1, C_71H_UP=1)[dv.FELL_EARLY_S] == 0
    rig.live(100, C_71H_UP=0)
    rig.lights().live(10)
    assert rig.live(1, C_71H_UP=1)[dv.FELL_EARLY_S] == 0


# In a whole scan

def bench(**changes):
    rig = Bench((("fitted", LEAST), ("at_dusk", 0), *changes.items()))
    rig.set([(ch.MOTOR_MDEGC, 20000)])
    return rig


def test_a_pump_that_nothing_sees_is_stopped_when_warm_and_waits_longer_each_time():
    rig = bench()
    waits = []
    for _ in range(3):
        until(rig, mo.PUMPING, [(ch.MOTOR_MDEGC, 20000)])
        rig.run(SECOND)
        until(rig, mo.STANDSTILL, [(ch.MOTOR_MDEGC, 45000)])
        waits.append(rig.scan.sequence.wait_periods[0] // SECOND)
        assert rig.scan.sequence.lockout.counted == 0
    first, longest = (rig.settings[st.index(name)]
                      for name in ("trip_wait_s", "holdoff_longest_s"))
    assert waits == [first, longest, longest]


def test_a_full_tank_ends_what_it_waits():
    rig = bench()
    until(rig, mo.PUMPING)
    rig.run(SECOND)
    until(rig, mo.STANDSTILL, [(ch.MOTOR_MDEGC, 45000)])
    until(rig, mo.PUMPING, [(ch.MOTOR_MDEGC, 20000)])
    until(rig, mo.STANDSTILL, [(ch.C_71H_UP, 0)])
    assert rig.scan.sequence.holdoff_periods == rig.scan.sequence.holdoff_first_periods


def test_a_spent_tank_ends_the_light_without_a_trip_and_for_long():
    rig = bench(wheel_turns_permille=10)
    rig.scan.sequence.light.hold(600, 6000)
    until(rig, mo.RUNNING)
    rig.run(50, [(ch.GENERATOR_MV, 11000), (ch.LAMP_MA, 55)])
    until(rig, mo.CLOSING, [(ch.GENERATOR_MV, 0), (ch.LAMP_MA, 0)])
    assert rig.scan.sequence.lockout.counted == 0
    longest_s = rig.settings[st.index("light_rest_longest_s")]
    assert rig.scan.sequence.light_rest.left_periods == longest_s * SECOND


def test_a_dry_pump_is_a_fault_only_where_a_float_says_that_there_is_water():
    """A lower tank that nothing reads may run empty: the pump stops, and waits."""
    rig = Bench((("fitted", ch.ALL_FITTED & ~(1 << ch.C_71L_LO)),))
    assert rig.scan.protection.by_index[IDS["37-PMP"]] is None
    waits = []
    for _ in range(2):
        rig.board.motor_follows = True
        until(rig, mo.PUMPING, [SUN, WATER])
        until(rig, mo.STANDSTILL, [(ch.PUMP_MA, 120)])
        waits.append(rig.scan.sequence.wait_periods[0] // SECOND)
    assert rig.scan.sequence.lockout.counted == 0
    assert waits[0] < waits[1]
    whole = Bench()
    until(whole, mo.PUMPING, [SUN, WATER])
    until(whole, mo.STANDSTILL, [(ch.PUMP_MA, 120)])
    assert whole.scan.sequence.lockout.trips[IDS["37-PMP"]] == 1
