"""What a person may order, and why an order may be refused: two tables.

Orders express wishes; protection stands above them.  Every hold runs out but
maintenance, in which nothing starts.
Who may order (signatures) is the link's business.
"""

from keeper.clock import PERIODS_PER_S
from keeper.events import CLOCK_SET, ORDER
from keeper.operation.light import PERIODS_PER_MIN
from keeper.modes import DRAINING, MAINTENANCE, PUMPING, RUNNING, TRIAL

DAY_MIN = 1440
WEEK_MIN = 7 * DAY_MIN
DAY_S = 86400
LAST_DAY = 50000  # days since 1970: the year 2106

# code, argument a: lowest, highest; argument b: lowest, highest
ORDERS = (
    (1, 1, 1000000, 1, DAY_MIN),
    (2, 1, DAY_MIN, 0, 0),
    (3, 1, 8, 1, DAY_MIN),
    (4, 0, DAY_MIN, 0, 0),
    (5, 0, 1, 0, DAY_MIN),
    (6, 0, 1, 0, WEEK_MIN),
    (7, 0, 2, 0, 1),
    (8, 1, 1, 0, 0),
    (9, 0, LAST_DAY, 0, DAY_S - 1),
    (10, 0, 0, 0, 0),
    (11, 0, 199, -40000, 125000),
)
(LIGHT, REST, BRIGHTNESS, LAST, PUMP_ALLOWED, DRAIN_DOWN, MAINTAIN, RESET, CLOCK,
 RELEASE, PROVE) = range(1, 12)
O_CODE, O_A_LOW, O_A_HIGH, O_B_LOW, O_B_HIGH = range(5)

REFUSALS = range(12)
(DONE, UNKNOWN, RANGE, LOCKED, CAUSE_PRESENT, ONLY_AT_RIG, RUNS, SAFE, NOT_USEFUL, NO_STEP,
 NOTHING_LOCKED, NOT_SAFER) = REFUSALS


def carry_out(keeper, code, a, b):
    """Carry out an order [integers]; return DONE or the number of the refusal."""
    result = _judge(keeper, code, a, b)
    keeper.events.post(ORDER, code, result)
    return result


def _judge(keeper, code, a, b):
    if not 1 <= code <= len(ORDERS):
        return UNKNOWN
    row = ORDERS[code - 1]
    if not (row[O_A_LOW] <= a <= row[O_A_HIGH] and row[O_B_LOW] <= b <= row[O_B_HIGH]):
        return RANGE
    sequence = keeper.core.sequence
    if code == CLOCK:
        return _clock(keeper, a, b)
    if code == MAINTAIN:
        return _maintain(keeper, sequence, a, b)
    if sequence.held_safe:
        return SAFE
    if code == RESET:
        return _reset(keeper.core, sequence)
    if code == DRAIN_DOWN:
        return _drain(sequence, a, b)
    if code == PUMP_ALLOWED:
        sequence.forbidden_periods = 0 if a else (b or DAY_MIN) * PERIODS_PER_MIN
        return DONE
    if code == REST:
        sequence.light.rest(a * PERIODS_PER_MIN)
        sequence.forbidden_periods = max(sequence.forbidden_periods, a * PERIODS_PER_MIN)
        return DONE
    if code == RELEASE:
        sequence.light.release()
        sequence.forbidden_periods = sequence.drain_periods = 0
        keeper.proving.end()
        return DONE
    if code == PROVE:
        return keeper.proving.order(a, b)
    return _light(keeper, sequence, code, a, b)


def _light(keeper, sequence, code, a, b):
    light = sequence.light
    if sequence.lockout.sides:
        return LOCKED
    if code == LAST:
        light.last(a * PERIODS_PER_MIN)
        return DONE
    if code == BRIGHTNESS:
        if a > len(light.steps):
            return NO_STEP
        light.hold(light.steps[a - 1], b * PERIODS_PER_MIN)
        return DONE
    if a < keeper.night.useful_mW:
        return NOT_USEFUL
    light.hold(a, b * PERIODS_PER_MIN)
    return DONE


def _reset(core, sequence):
    if not sequence.lockout.sides:
        return NOTHING_LOCKED
    if sequence.lockout.only_at_rig():
        return ONLY_AT_RIG
    if core.protection.cause_present():
        return CAUSE_PRESENT
    sequence.unlock()
    return DONE


def _drain(sequence, a, b):
    if a and sequence.lockout.sides:
        return LOCKED
    sequence.drain_periods = (b or DAY_MIN) * PERIODS_PER_MIN if a else 0
    return DONE


def _maintain(keeper, sequence, a, b):
    if not a:
        if sequence.held_safe:
            return SAFE
        sequence.maintenance = False
        return DONE
    runs = sequence.state in (TRIAL, PUMPING, RUNNING, DRAINING)
    if runs and a == 1:
        return RUNS
    sequence.maintenance = True
    keeper.leaving = bool(b)
    return DONE


def _clock(keeper, days, second):
    keeper.core.sequence.light.set_clock(second)
    keeper.clock_days = days
    keeper.clock_set_ds = keeper.uptime_ds - second * PERIODS_PER_S
    keeper.events.post(CLOCK_SET, 0, second // 60)
    return DONE


def stay_out_is_due(keeper):
    """Return whether the program should now leave for the laptop's tools [bool]."""
    return keeper.leaving and keeper.core.sequence.state == MAINTENANCE
