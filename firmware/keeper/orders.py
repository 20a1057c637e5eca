"""What a person may order, and why an order may be refused: two tables.

Orders express wishes; protection stands above them.  Every hold runs out.
Who may order (signatures) is the link's business.
"""

from keeper.clock import PERIODS_PER_S
from keeper.events import CLOCK_SET, ORDER
from keeper.light import MIN
from keeper.modes import DRAINING, MAINTENANCE, PUMPING, RUNNING, TRIAL

DAY_MIN = 1440
WEEK_MIN = 7 * DAY_MIN
DAY_S = 86400
LAST_DAY = 50000  # days since 1970: the year 2106

# code, name, argument a: lowest, highest, meaning; argument b: lowest, highest, meaning
ORDERS = (
    (1, "light", 1, 1000000, "lamp power [mW]", 1, DAY_MIN, "for so long [min]"),
    (2, "rest", 1, DAY_MIN, "no light and no pump for so long [min]", 0, 0, "-"),
    (3, "brightness", 1, 8, "step of the button", 1, DAY_MIN, "for so long [min]"),
    (4, "last", 0, DAY_MIN, "make the light last for so long [min], 0 = till dawn", 0, 0, "-"),
    (5, "pump", 0, 1, "0 = forbid, 1 = allow", 0, DAY_MIN, "forbid for so long [min]"),
    (6, "drain-down", 0, 1, "1 = empty pump, filter and pipes, 0 = end", 0, WEEK_MIN,
     "for so long [min]"),
    (7, "maintenance", 0, 2, "1 = stand if nothing runs, 2 = stop what runs, 0 = end", 0, 1,
     "1 = leave the program for the laptop's tools"),
    (8, "reset", 1, 1, "1 = seen on site", 0, 0, "-"),
    (9, "clock", 0, LAST_DAY, "days since 1970-01-01", 0, DAY_S - 1, "second of the day, UTC"),
    (10, "release", 0, 0, "-", 0, 0, "-"),
)
(LIGHT, REST, BRIGHTNESS, LAST, PUMP_ALLOWED, DRAIN_DOWN, MAINTAIN, RESET, CLOCK,
 RELEASE) = range(1, 11)
(O_CODE, O_NAME, O_A_LOW, O_A_HIGH, O_A_TEXT, O_B_LOW, O_B_HIGH, O_B_TEXT) = range(8)

REFUSALS = (
    "done",
    "no such order",
    "an argument is out of range",
    "locked out: a person must reset first",
    "the cause is still present",
    "this lockout can only be reset at the rig, by its button",
    "something runs: order it to stop, or wait",
    "the keeper stands in its safe mode",
    "below the least useful power: choose fewer hours instead",
    "there is no such brightness step",
    "nothing is locked out",
)
(DONE, UNKNOWN, RANGE, LOCKED, CAUSE_PRESENT, ONLY_AT_RIG, RUNS, SAFE, NOT_USEFUL, NO_STEP,
 NOTHING_LOCKED) = range(len(REFUSALS))


def carry_out(keeper, code, a, b):
    """Carry out an order [integers]; return DONE or the number of the refusal."""
    result = _judge(keeper, code, a, b)
    core = keeper.core
    core.events.post(ORDER, code, result, core.sequence.state, core.uptime_ds, core.values)
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
        sequence.forbidden = 0 if a else (b or DAY_MIN) * MIN
        return DONE
    if code == REST:
        sequence.light.rest(a * MIN)
        sequence.forbidden = a * MIN
        return DONE
    if code == RELEASE:
        sequence.light.release()
        sequence.forbidden = sequence.drain = 0
        return DONE
    return _light(keeper, sequence, code, a, b)


def _light(keeper, sequence, code, a, b):
    light = sequence.light
    if sequence.lockout.sides:
        return LOCKED
    if code == LAST:
        light.last(a * MIN)
        return DONE
    if code == BRIGHTNESS:
        if a > len(light.steps):
            return NO_STEP
        light.hold(light.steps[a - 1], b * MIN)
        light.step = a - 1
        return DONE
    if a < keeper.night.useful_mW:
        return NOT_USEFUL
    light.hold(a, b * MIN)
    return DONE


def _reset(core, sequence):
    if not sequence.lockout.sides:
        return NOTHING_LOCKED
    if sequence.lockout.only_at_rig():
        return ONLY_AT_RIG
    if core.protection.cause_present():
        return CAUSE_PRESENT
    sequence.lockout.reset(sequence.state, core.uptime_ds, core.values)
    return DONE


def _drain(sequence, a, b):
    if a and sequence.lockout.sides:
        return LOCKED
    sequence.drain = (b or DAY_MIN) * MIN if a else 0
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
    core = keeper.core
    core.sequence.light.set_clock(second)
    keeper.clock_days = days
    keeper.clock_set_ds = core.uptime_ds - second * PERIODS_PER_S
    core.events.post(CLOCK_SET, 0, second // 60, core.sequence.state, core.uptime_ds, core.values)
    return DONE


def stay_out_is_due(keeper):
    """Return whether the program should now leave for the laptop's tools [bool]."""
    return keeper.leaving and keeper.core.sequence.state == MAINTENANCE
