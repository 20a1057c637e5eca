"""An order that proves: an element acts sooner for a while, never later, and as set again."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from keeper import channels as ch
from keeper import modes as mo
from keeper.operation import orders as od
from keeper.operation import proving
from keeper.protection import elements as el
from tests.keeper.ordered import ordered_in
from tests.keeper.test_order_table import lock
from tests.keeper.ways import DRY, DULL, NIGHT, STOP_PRESSED, SUN, WATER
from tests.keeper.whole import unlocked

TEN_MIN = 6000           # scans
LOOKED_AT = 101          # what has had its time is looked at every ten seconds
NUMBER = {row[el.E_ID]: index + 1 for index, row in enumerate(el.ELEMENTS)}
MOTOR = NUMBER["26-MOT"]
TRIPS_mdegC, RESETS_mdegC = 55000, 45000  # as tests/keeper/scripted.py sets it
HAND_WARM = (ch.MOTOR_MDEGC, 33000)
COOL = (ch.MOTOR_MDEGC, 20000)


def sooner(keeper, element_id, limit):
    return keeper.order(od.PROVE, proving.ELEMENT + NUMBER[element_id], limit)


def acts(keeper, element_id):
    return bool(keeper.core.protection.acting[NUMBER[element_id] - 1])


def look(keeper):
    """What the keeper does in its slack every ten seconds."""
    keeper.proving.look()


def test_a_hand_warm_sensor_proves_the_motors_element():
    keeper = ordered_in(mo.STANDSTILL)
    keeper.run(20, [HAND_WARM])
    assert not acts(keeper, "26-MOT")
    assert sooner(keeper, "26-MOT", 30000) == od.DONE
    keeper.run(10)
    assert not acts(keeper, "26-MOT")  # its delay of 1 s is as set
    keeper.run(2)
    assert acts(keeper, "26-MOT")


def test_what_tripped_lets_go_once_the_limit_is_as_set():
    keeper = ordered_in(mo.STANDSTILL)
    sooner(keeper, "26-MOT", 30000)
    keeper.run(20, [HAND_WARM])
    keeper.order(od.PROVE, proving.END, 0)
    keeper.run(25)  # one step down in each scan, from two steps up in each of a second
    assert not acts(keeper, "26-MOT")


def test_it_stops_a_pump_that_runs():
    keeper = ordered_in(mo.PUMPING)
    keeper.run(20, [COOL])
    sooner(keeper, "26-MOT", 19000)
    assert keeper.until(mo.STANDSTILL, most=20) <= 20


def test_it_ends_by_itself_after_ten_minutes_and_says_for_how_long():
    keeper = ordered_in(mo.STANDSTILL)
    sooner(keeper, "26-MOT", 30000)
    assert keeper.proving.element == MOTOR
    assert keeper.proving.left_ds() == TEN_MIN
    keeper.run(TEN_MIN - 1)
    look(keeper)
    assert keeper.proving.left_ds() == 1
    keeper.run(1)
    look(keeper)
    assert keeper.proving.element == keeper.proving.left_ds() == 0
    keeper.run(50, [HAND_WARM])
    assert not acts(keeper, "26-MOT")
    keeper.run(50, [(ch.MOTOR_MDEGC, TRIPS_mdegC + 1)])
    assert acts(keeper, "26-MOT")


def test_a_keeper_looks_for_that_by_itself(tmp_path):
    rig = unlocked(tmp_path)
    rig.run(1, [DULL])
    rig.keeper.order(od.PROVE, proving.ELEMENT + MOTOR, 30000)
    rig.run(TEN_MIN + LOOKED_AT)
    assert rig.keeper.proving.element == 0


@pytest.mark.parametrize("code", [(od.PROVE, proving.END, 0), (od.RELEASE, 0, 0)])
def test_two_orders_end_it(code):
    keeper = ordered_in(mo.STANDSTILL)
    sooner(keeper, "26-MOT", 30000)
    keeper.order(*code)
    keeper.run(50, [HAND_WARM])
    assert not acts(keeper, "26-MOT")


def test_it_is_lost_at_a_restart(tmp_path):
    rig = unlocked(tmp_path)
    rig.keeper.order(od.PROVE, proving.ELEMENT + MOTOR, 30000)
    rig.boot()
    rig.run(600, [HAND_WARM])
    assert rig.keeper.proving.element == 0
    assert not rig.keeper.core.protection.acting[MOTOR - 1]


def test_one_element_at_a_time_and_the_one_before_is_as_set():
    keeper = ordered_in(mo.STANDSTILL)
    sooner(keeper, "26-MOT", 30000)
    assert sooner(keeper, "23-WTR", 20000) == od.DONE
    keeper.run(700, [HAND_WARM, (ch.WATER_MDEGC, 15000)])
    assert not acts(keeper, "26-MOT")
    assert acts(keeper, "23-WTR")  # the coldest pipe need not freeze for it


def test_twice_the_same_is_judged_by_its_limit_as_set():
    keeper = ordered_in(mo.STANDSTILL)
    sooner(keeper, "26-MOT", 30000)
    assert sooner(keeper, "26-MOT", 40000) == od.DONE
    keeper.run(50, [HAND_WARM])
    assert not acts(keeper, "26-MOT")
    keeper.order(od.PROVE, proving.END, 0)
    assert keeper.core.protection.by_index[MOTOR - 1][3:5] == (TRIPS_mdegC, RESETS_mdegC)


def test_a_refused_order_leaves_what_was_asked_before():
    keeper = ordered_in(mo.STANDSTILL)
    sooner(keeper, "26-MOT", 30000)
    assert sooner(keeper, "26-MOT", TRIPS_mdegC) == od.NOT_SAFER
    assert keeper.proving.element == MOTOR
    keeper.run(20, [HAND_WARM])
    assert acts(keeper, "26-MOT")


MOST = 125000  # that the order takes

# What has a limit that a hand can pass: a reading of the list of channels, not what is worked
# out of several, no contact, and nothing that locks out at once.
PROVABLE = ("26-MOT", "33-VLV", "59-GEN", "27-SUP", "23-WTR", "23-CLD")


@pytest.mark.parametrize("element_id", NUMBER)
def test_only_what_a_hand_can_bring_about_may_act_sooner(element_id):
    keeper = ordered_in(mo.STANDSTILL)
    row = keeper.core.protection.by_index[NUMBER[element_id] - 1]
    sooner_by_1 = 0 if row is None else row[3] * row[2] - row[2]
    answer = sooner(keeper, element_id, min(sooner_by_1, MOST))
    assert answer == (od.DONE if element_id in PROVABLE else od.NOT_SAFER)


@given(st.sampled_from(PROVABLE), st.integers(-40000, 125000), st.integers(-40000, 125000))
def test_no_order_lets_an_element_act_later(element_id, limit, reading):
    keeper = ordered_in(mo.STANDSTILL)
    protection = keeper.core.protection
    index = NUMBER[element_id] - 1
    before = protection.by_index[index]

    def is_beyond(row):
        return reading * row[2] > row[3]

    answer = sooner(keeper, element_id, limit)
    assert (answer == od.DONE) == (limit * before[2] < before[3])
    after = protection.by_index[index]
    assert is_beyond(after) or not is_beyond(before)
    assert after[4] <= after[3]  # it lets go on the safe side of where it acts
    assert after[5] == before[5]
    for state, looked_at in enumerate(protection.above[:]):
        looked_at += protection.below[state]
        found = [row for row in looked_at if row[0] == index]
        armed = protection.armed[index] >> state & 1
        assert found == ([(index, after[1], after[2] * after[3])] if armed else [])
    keeper.order(od.PROVE, proving.END, 0)
    assert protection.by_index[index] == before


def test_an_element_that_counts_already_is_judged_by_the_new_limit():
    keeper = ordered_in(mo.STANDSTILL)
    keeper.run(3, [(ch.SUPPLY_MV, 0)])
    sooner(keeper, "27-SUP", 39000)
    keeper.run(300, [(ch.SUPPLY_MV, 38000)])
    assert acts(keeper, "27-SUP")


# The pump

def test_the_pump_is_tried_at_once_and_only_once_in_a_sun_too_weak_to_start():
    keeper = ordered_in(mo.STANDSTILL)
    keeper.run(300, [DULL])
    assert keeper.order(od.PROVE, proving.TRY_PUMP, 0) == od.DONE
    assert keeper.until(mo.TRIAL, [DRY], most=2) <= 2
    keeper.until(mo.STANDSTILL, most=3000)  # its ordinary trial, which ends as too weak
    look(keeper)
    for _ in range(TEN_MIN):
        keeper.run(1)
        assert keeper.state == mo.STANDSTILL


def test_a_trial_that_finds_water_goes_on_as_any_other():
    keeper = ordered_in(mo.STANDSTILL)
    keeper.run(300, [DULL])
    keeper.order(od.PROVE, proving.TRY_PUMP, 0)
    keeper.until(mo.PUMPING, [SUN, WATER], most=100)


def test_a_trial_that_nothing_let_begin_is_forgotten_after_ten_minutes():
    keeper = ordered_in(mo.STANDSTILL)
    keeper.run(300, [DULL, (ch.C_71H_UP, 0)])
    before = keeper.core.sequence.start_mV
    keeper.order(od.PROVE, proving.TRY_PUMP, 0)
    keeper.run(TEN_MIN)
    look(keeper)
    keeper.run(600, [(ch.C_71H_UP, 1)])
    assert keeper.state == mo.STANDSTILL
    assert keeper.core.sequence.start_mV == before


@pytest.mark.parametrize("barred", [STOP_PRESSED, (ch.C_71H_UP, 0), (ch.C_71L_LO, 0),
                                    (ch.MOTOR_MDEGC, 60000), (ch.SUPPLY_MV, 0)])
def test_no_trial_passes_protection_by(barred):
    keeper = ordered_in(mo.STANDSTILL)
    keeper.run(100, [DULL, barred])
    keeper.order(od.PROVE, proving.TRY_PUMP, 0)
    for _ in range(300):
        keeper.run(1)
        assert not keeper.bench.board.outputs[ch.OUT_PUMP]


@pytest.mark.parametrize("state", [mo.TRIAL, mo.PUMPING, mo.RUNNING, mo.CLOSING, mo.DRAINING,
                                   mo.MAINTENANCE])
def test_a_trial_is_refused_where_the_rig_does_not_stand(state):
    assert ordered_in(state).order(od.PROVE, proving.TRY_PUMP, 0) == od.RUNS


def test_nothing_is_tried_or_lowered_in_a_lockout():
    keeper = ordered_in(mo.STANDSTILL)
    lock(keeper)
    assert keeper.order(od.PROVE, proving.TRY_PUMP, 0) == od.LOCKED
    assert sooner(keeper, "26-MOT", 30000) == od.LOCKED


def test_the_numbers_of_elements_leave_the_order_room():
    assert proving.ELEMENT > proving.TRY_PUMP
    assert proving.ELEMENT + el.ROWS <= od.ORDERS[od.PROVE - 1][od.O_A_HIGH]


# The light

class Light:
    """What blinks, and how often it was told to."""

    def __init__(self):
        self.said = []

    def say(self, blinks):
        self.said.append(blinks)


@pytest.mark.parametrize(("asked", "blinks"), [(5, 5), (0, 1), (-7, 1), (20, 20), (21, 20)])
def test_the_boards_light_blinks_a_few_times_at_most(asked, blinks):
    keeper = ordered_in(mo.STANDSTILL)
    light: Any = Light()
    keeper.proving = proving.Proving(keeper.core, light)
    assert keeper.order(od.PROVE, proving.BLINK, asked) == od.DONE
    assert light.said == [blinks]


def test_a_board_without_a_light_takes_the_order_too():
    assert ordered_in(mo.RUNNING).order(od.PROVE, proving.BLINK, 3) == od.DONE


def test_the_night_goes_on_beside_it():
    keeper = ordered_in(mo.STANDSTILL)
    sooner(keeper, "26-MOT", 30000)
    keeper.until(mo.RUNNING, [NIGHT])
