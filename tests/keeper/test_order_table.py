"""Every order in every state, free, locked out and under the local stop: a table of its own.

Written from the design: a lockout turns both modes off until a person resets, so
nothing that would open the valve is accepted in it; what makes the rig stand is
accepted always; nothing is tried or proven in it; some lockouts are reset at the rig alone,
none while its cause is there; maintenance asks politely or not; the safe mode hears the clock and
maintenance alone.
"""

import pytest

from forebay.words.operation import ORDERS, REFUSALS
from keeper import channels as ch
from keeper import events as ev
from keeper import modes as mo
from keeper.operation import orders as od
from keeper.protection import elements as el
from tests.keeper.ordered import ordered_in
from tests.keeper.ways import HOT, NIGHT, STOP_PRESSED, SUN, WATER, bring, posted

STATES = range(len(mo.STATES))
STATE_IDS = [row[0] for row in mo.STATES]
RUNS_IN = (mo.TRIAL, mo.PUMPING, mo.RUNNING, mo.DRAINING)
AT_REST = [state for state in STATES if state not in RUNS_IN]  # where a lockout can meet an order

# What each order and refusal is on the wire: the numbers are a promise to the laptop.
(LIGHT, REST, BRIGHTNESS, LAST, PUMP, DRAIN, MAINTAIN, RESET, CLOCK, RELEASE, PROVE) = range(1, 12)
(DONE, UNKNOWN, RANGE, LOCKED, CAUSE, RIG, RUNS, SAFE, NOT_USEFUL, NO_STEP, NOTHING,
 NOT_SAFER) = range(12)

# order, a, b: the answer when free, locked out, locked out at the rig only, in the safe mode
ANSWERS = {
    (LIGHT, 600, 10): (DONE, LOCKED, LOCKED, SAFE),
    (LIGHT, 300, 10): (DONE, LOCKED, LOCKED, SAFE),
    (LIGHT, 299, 10): (NOT_USEFUL, LOCKED, LOCKED, SAFE),
    (REST, 10, 0): (DONE, DONE, DONE, SAFE),
    (BRIGHTNESS, 1, 10): (DONE, LOCKED, LOCKED, SAFE),
    (BRIGHTNESS, 3, 10): (DONE, LOCKED, LOCKED, SAFE),
    (BRIGHTNESS, 4, 10): (NO_STEP, LOCKED, LOCKED, SAFE),
    (LAST, 10, 0): (DONE, LOCKED, LOCKED, SAFE),
    (LAST, 0, 0): (DONE, LOCKED, LOCKED, SAFE),
    (PUMP, 0, 10): (DONE, DONE, DONE, SAFE),
    (PUMP, 1, 0): (DONE, DONE, DONE, SAFE),
    (DRAIN, 1, 10): (DONE, LOCKED, LOCKED, SAFE),
    (DRAIN, 0, 0): (DONE, DONE, DONE, SAFE),
    (MAINTAIN, 2, 0): (DONE, DONE, DONE, DONE),
    (MAINTAIN, 2, 1): (DONE, DONE, DONE, DONE),
    (MAINTAIN, 0, 0): (DONE, DONE, DONE, SAFE),
    (RESET, 1, 0): (NOTHING, DONE, RIG, SAFE),
    (CLOCK, 20000, 3600): (DONE, DONE, DONE, DONE),
    (RELEASE, 0, 0): (DONE, DONE, DONE, SAFE),
    (PROVE, 0, 0): (DONE, DONE, DONE, SAFE),
    (PROVE, 1, 3): (DONE, DONE, DONE, SAFE),
    (PROVE, 115, 54999): (DONE, LOCKED, LOCKED, SAFE),    # 26-MOT, which trips at 55 degC
    (PROVE, 115, 55000): (NOT_SAFER, LOCKED, LOCKED, SAFE),
    (PROVE, 111, 0): (NOT_SAFER, LOCKED, LOCKED, SAFE),   # 3-VLV: no limit
    (PROVE, 199, 0): (NOT_SAFER, LOCKED, LOCKED, SAFE),   # none of that number
}
# Arguments at and beyond each end, as the orders' texts and units give them: a day has
# 1440 minutes and 86400 seconds, a week 10080 minutes, a power is at most 1 kW.
ENDS = {
    LIGHT: ((1, 1_000_000), (1, 1440)),
    REST: ((1, 1440), (0, 0)),
    BRIGHTNESS: ((1, 8), (1, 1440)),
    LAST: ((0, 1440), (0, 0)),
    PUMP: ((0, 1), (0, 1440)),
    DRAIN: ((0, 1), (0, 10080)),
    MAINTAIN: ((0, 2), (0, 1)),
    RESET: ((1, 1), (0, 0)),
    CLOCK: ((0, 50_000), (0, 86_399)),
    RELEASE: ((0, 0), (0, 0)),
    PROVE: ((0, 199), (-40_000, 125_000)),  # the legal temperatures, and volts beyond any here
}
# Over-full, a welded switch by its current and by its heat, overspeed.
NEEDS_A_PERSON_AT_THE_RIG = ("71HH-UP", "3-SW", "3-HOT", "12-GEN")

NEARLY_SHUT = (ch.VALVE_PERMILLE, 40)  # not shut, and no fault of its travel either
SETTLED = 200  # scans after which every cause has had its time: 48-SHT needs 15 s

every_order = pytest.mark.parametrize(
    "order", ANSWERS, ids=[f"{ORDERS[code].name}-{a}" for code, a, _ in ANSWERS]
)
every_state = pytest.mark.parametrize("state", STATES, ids=STATE_IDS)


def lock(keeper, element_id="26-MOT"):
    """Locks out as the element would, with its cause gone since."""
    if keeper.bench.state == mo.CLOSING:
        keeper.bench.set([NEARLY_SHUT])
    keeper.bench.run(SETTLED)
    keeper.core.sequence.lockout.sides = el.BOTH
    keeper.core.sequence.lockout.element = el.number(element_id)


def test_the_table_names_every_order():
    assert sorted({code for code, _, _ in ANSWERS}) == [row[od.O_CODE] for row in od.ORDERS]
    assert len(od.ORDERS) == 11


def test_every_answer_has_its_words():
    words = list(REFUSALS.values())
    assert len(words) == NOT_SAFER + 1
    for number, word in ((DONE, "done"), (UNKNOWN, "no such order"), (RANGE, "range"),
                         (LOCKED, "locked out"), (CAUSE, "still present"), (RIG, "at the rig"),
                         (RUNS, "runs"), (SAFE, "safe mode"), (NOT_USEFUL, "useful"),
                         (NO_STEP, "step"), (NOTHING, "nothing is locked"),
                         (NOT_SAFER, "act later")):  # fmt: skip
        assert word in words[number]


@pytest.mark.parametrize("stop", [False, True], ids=["free", "local stop"])
@every_state
@every_order
def test_what_is_answered_in_each_state_while_nothing_is_locked_out(order, state, stop):
    keeper = ordered_in(state)
    if stop:
        keeper.bench.set([STOP_PRESSED])
        keeper.bench.run(1)
    assert keeper.order(*order) == ANSWERS[order][0]


@pytest.mark.parametrize("stop", [False, True], ids=["released", "local stop"])
@pytest.mark.parametrize("state", AT_REST, ids=[STATE_IDS[state] for state in AT_REST])
@pytest.mark.parametrize("column", [1, 2], ids=["anywhere", "at the rig"])
@every_order
def test_what_is_answered_in_a_lockout(order, column, state, stop):
    keeper = ordered_in(state)
    lock(keeper, "26-MOT" if column == 1 else "3-SW")
    if stop:
        keeper.bench.run(10, [STOP_PRESSED])
    assert keeper.order(*order) == ANSWERS[order][column]


@every_order
def test_what_is_answered_in_the_safe_mode(order):
    keeper = ordered_in(mo.MAINTENANCE)
    keeper.core.sequence.held_safe = True
    assert keeper.order(*order) == ANSWERS[order][3]
    keeper.bench.run(100, [SUN, WATER])
    keeper.bench.run(100, [NIGHT])
    assert keeper.bench.state == mo.MAINTENANCE


@every_state
@pytest.mark.parametrize("leave", [0, 1])
def test_maintenance_is_asked_politely_only_of_a_rig_that_stands(state, leave):
    keeper = ordered_in(state)
    assert keeper.order(MAINTAIN, 1, leave) == (RUNS if state in RUNS_IN else DONE)
    assert keeper.core.sequence.maintenance == (state not in RUNS_IN or state == mo.MAINTENANCE)
    assert keeper.leaving == (leave == 1 and state not in RUNS_IN)


@pytest.mark.parametrize(
    ("code", "a", "b", "answer"),
    [
        (code, *arguments, RANGE if beyond else None)
        for code, ((a_low, a_high), (b_low, b_high)) in ENDS.items()
        for arguments, beyond in (
            ((a_low, b_low), False), ((a_high, b_high), False),
            ((a_low - 1, b_low), True), ((a_high + 1, b_low), True),
            ((a_low, b_low - 1), True), ((a_low, b_high + 1), True),
        )
    ],
)  # fmt: skip
def test_arguments_are_taken_up_to_their_ends_and_not_beyond(code, a, b, answer):
    keeper = ordered_in(mo.STANDSTILL)
    before = vars(keeper.core.sequence.light).copy()
    answered = keeper.order(code, a, b)
    if answer == RANGE:
        assert answered == RANGE
        assert vars(keeper.core.sequence.light) == before
    else:
        assert answered not in (UNKNOWN, RANGE)


@pytest.mark.parametrize("code", [-1, 0, 12, 13, 255])
def test_a_number_that_is_no_order_is_answered_so(code):
    assert ordered_in(mo.STANDSTILL).order(code, 0, 0) == UNKNOWN


@every_order
def test_an_order_is_posted_with_its_answer_and_the_state_that_it_met(order):
    keeper = ordered_in(mo.RUNNING)
    keeper.bench.events.clear()
    keeper.order(*order)
    keeper.bench.drain()
    now_ds = keeper.core.uptime_ds
    assert posted(keeper.bench, ev.ORDER) == [
        (ev.ORDER, order[0], ANSWERS[order][0], mo.RUNNING, now_ds)
    ]


# What a refused order must not do, and what none may do

def what_runs(bench):
    """Whether the pump is on or the valve told to open."""
    return bench.board.outputs[ch.OUT_PUMP] or bench.board.outputs[ch.OUT_VALVE]


@pytest.mark.parametrize("wish", [[SUN, WATER], [NIGHT]], ids=["sun", "night"])
@every_order
def test_in_a_lockout_no_order_starts_anything(order, wish):
    keeper = ordered_in(mo.STANDSTILL)
    lock(keeper, "3-SW")
    keeper.order(*order)
    bring(keeper.bench, wish)
    for _ in range(200):
        keeper.bench.run()
        assert not what_runs(keeper.bench)


@pytest.mark.parametrize("wish", [[SUN, WATER], [NIGHT]], ids=["sun", "night"])
@every_order
def test_under_the_local_stop_no_order_starts_anything(order, wish):
    keeper = ordered_in(mo.STANDSTILL)
    keeper.bench.run(10, [STOP_PRESSED])
    keeper.order(*order)
    bring(keeper.bench, wish)
    for _ in range(200):
        keeper.bench.run()
        assert not what_runs(keeper.bench)


@pytest.mark.parametrize("order", [(LIGHT, 600, 10), (BRIGHTNESS, 1, 10), (LAST, 10, 0),
                                   (DRAIN, 1, 10)])  # fmt: skip
def test_what_a_lockout_refused_does_not_begin_after_its_reset(order):
    keeper = ordered_in(mo.STANDSTILL)
    lock(keeper)
    keeper.order(*order)
    assert keeper.order(RESET, 1, 0) == DONE
    keeper.bench.run(300)
    assert keeper.bench.state == mo.STANDSTILL


# The reset by order

@pytest.mark.parametrize("row", el.ELEMENTS, ids=[row[el.E_ID] for row in el.ELEMENTS])
def test_over_full_welded_switch_and_overspeed_are_reset_at_the_rig_only(row):
    keeper = ordered_in(mo.STANDSTILL)
    lock(keeper, row[el.E_ID])
    at_rig = row[el.E_ID] in NEEDS_A_PERSON_AT_THE_RIG
    assert keeper.order(RESET, 1, 0) == (RIG if at_rig else DONE)
    assert bool(keeper.core.sequence.lockout.sides) == at_rig


def test_no_order_resets_a_lockout_whose_cause_acts_or_only_counts():
    keeper = ordered_in(mo.STANDSTILL)
    lock(keeper)
    keeper.bench.run(1, [HOT])  # counts: acts after a second
    assert keeper.order(RESET, 1, 0) == CAUSE
    keeper.bench.run(50)
    assert keeper.order(RESET, 1, 0) == CAUSE
    assert keeper.core.sequence.lockout.sides == el.BOTH


def test_no_order_resets_a_lockout_right_after_a_start():
    """The slowest cause, water that runs past a shut valve, has not had its 15 s."""
    keeper = ordered_in(mo.STANDSTILL)
    keeper.core.sequence.lockout.sides = el.BOTH
    keeper.core.sequence.lockout.element = el.number("26-MOT")
    keeper.bench.run(150 - keeper.core.uptime_ds)
    assert keeper.order(RESET, 1, 0) == CAUSE
    keeper.bench.run(1)
    assert keeper.order(RESET, 1, 0) == DONE


def test_a_lockout_whose_element_is_not_known_is_reset_at_the_rig_only():
    keeper = ordered_in(mo.STANDSTILL)
    lock(keeper)
    keeper.core.sequence.lockout.element = el.NO_ELEMENT
    assert keeper.order(RESET, 1, 0) == RIG


def test_a_reset_by_order_ends_the_drain_that_it_found():
    keeper = ordered_in(mo.STANDSTILL)
    lock(keeper)
    keeper.core.sequence.drain_periods = 6000
    assert keeper.order(RESET, 1, 0) == DONE
    keeper.bench.run(100)
    assert keeper.bench.state == mo.STANDSTILL
