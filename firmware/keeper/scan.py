"""One pass of the keeper: read, validate, protect, decide, drive.

Runs every 100 ms, allocates nothing, blocks on nothing but the board's own
reading and writing.  Outputs are safe from the moment the object exists.
"""

from keeper.settings import index as at
from keeper.channels import (
    ALL_CHANNELS, CHANNELS, CH_HIGH, CH_LOW, COLUMNS, FITTABLE, FLOW_DOWN, FLOW_UP, GENERATOR_MA,
    GENERATOR_MV, INVALID, LAMP_MA, OUTPUTS, OUT_DRIVE, OUT_DUMP, OUT_LAMPS_OFF, OUT_OF_RANGE,
    OUT_PUMP, OUT_VALVE, PULSES_DOWN, PULSES_UP, REASONS, SUPPLY_MA, SUPPLY_MV, VALVE_PERMILLE)
from keeper.clock import PERIOD_MS, TICKS_MASK
from keeper.protection.derived import LEAST_GENERATOR_MV, VALUES, Derived
from keeper.protection.elements import number
from keeper.events import VALVE_ZERO, EventQueue
from keeper.operation.governor import Governor
from keeper.operation.positioner import MILLIONTHS, PERMILLE, Positioner
from keeper.modes import DRAINING, PUMPING, RUNNING, TRIAL
from keeper.protection.judging import Protection, stands_in
from keeper.operation.sequence import Sequence
from keeper.totals import POWERS, TotalsBank

MOST_PERIODS = 600       # a longer pause is a new start, not a late scan
FLOW_WINDOW_SCANS = 20   # scans over which a flow is measured: 2 s
LONGEST_DS = (1 << 30) - 1  # the board's largest small number: 3.4 years
EVENT_SLOTS = 24     # a few of the journal's turns; most elements never act together
# A measured channel is judged by its limits; the two flows are derived.
LIMITS = tuple([(index, row[CH_LOW], row[CH_HIGH]) for index, row in enumerate(CHANNELS)
                if index not in (FLOW_UP, FLOW_DOWN)])
MOST_FLOW_UP = CHANNELS[FLOW_UP][CH_HIGH]
MOST_FLOW_DOWN = CHANNELS[FLOW_DOWN][CH_HIGH]
MOST_REASON = len(REASONS)
# While one of these acts, the dump load helps the clamp.
OVER_VOLTAGE, OVERSPEED = number("59-GEN") - 1, number("12-GEN") - 1
# Factors of a power that must be numbers before they are multiplied.
FACTORS = tuple(sorted(set([i for row in POWERS for i in row[1:]] + [SUPPLY_MV, SUPPLY_MA])))
FACTOR_BITS = sum([1 << index for index in FACTORS])


class PulseWindow:
    """Flow from pulses over the last FLOW_WINDOW_SCANS scans."""

    def __init__(self, pulse_nL):
        """Take the volume of a pulse [nL]."""
        self.ring = [0] * FLOW_WINDOW_SCANS
        self.place = 0
        self.sum = 0
        # More pulses than this in a scan would leave 2**29 in the totals.
        self.most = 0x1FFFFFFF // pulse_nL
        self.nL_per_window = pulse_nL // FLOW_WINDOW_SCANS

    def flow(self, pulses):
        """Take the pulses of one scan [-]; return the flow [uL/s].

        Need not be called while no pulses come and `sum` is 0: then the ring holds none.
        """
        self.sum += pulses - self.ring[self.place]
        self.ring[self.place] = pulses
        self.place = (self.place + 1) % FLOW_WINDOW_SCANS
        # nL in the window / 2 s / 1000 = uL/s; nL_per_window is nL / 20
        return self.sum * self.nL_per_window // 100


def derived_of(settings, why):
    """Return what works out the derived values of a rig; arguments as for `Derived`."""
    if not stands_in(settings[at("fitted")]):
        return Derived(settings, why)
    from keeper.protection.standing_in import StandIns  # only here: not every program has it
    return StandIns(settings, why)


def sequence_of(settings, events, starts):
    """Return what decides the state of a rig; arguments as for `Sequence`."""
    if not stands_in(settings[at("fitted")]):
        return Sequence(settings, events, starts)
    from keeper.operation.unseen import UnseenSequence  # only here: not every program has it
    return UnseenSequence(settings, events, starts)


def totals_of(settings):
    """Return the totals of a rig with settings [list in table order]."""
    pulse_up_nL, pulse_down_nL = settings[at("pulse_up_nL")], settings[at("pulse_down_nL")]
    fitted = settings[at("fitted")]
    if fitted & ALL_CHANNELS == ALL_CHANNELS:
        return TotalsBank(pulse_up_nL, pulse_down_nL, settings[at("lit_mW")])
    from keeper.partial import PartialTotals  # only here: not every program has it
    return PartialTotals(pulse_up_nL, pulse_down_nL, settings[at("lit_mW")], fitted)


def governor_of(settings, positioner):
    """Return the governor of a rig; arguments as for `Governor`."""
    if not positioner.is_blind:
        return Governor(settings, positioner)
    from keeper.operation.by_time import LearningGovernor  # only here: not every program has it
    return LearningGovernor(settings, positioner)


class Scan:
    """Everything that happens inside one scan period."""

    def __init__(self, settings, board):
        """Take settings [list in table order] and the board (read, write)."""
        self.board = board
        self.values = [0] * VALUES
        self.outputs = [0] * len(OUTPUTS)
        self.why = [OUT_OF_RANGE] * COLUMNS  # reason of each bad channel
        fitted = settings[at("fitted")]
        self.limits = tuple([row for row in LIMITS if fitted >> row[0] & 1])
        # What the rig lacks reads INVALID in every scan, and is not bad.
        self.absent = tuple([place for place in range(FITTABLE) if not fitted >> place & 1])
        self.light_mA = LAMP_MA if fitted >> LAMP_MA & 1 else GENERATOR_MA
        self.events = EventQueue(EVENT_SLOTS, self.values, FITTABLE)
        self.derived = derived_of(settings, self.why)
        self.protection = Protection(settings, self.events, self.why)
        self.sequence = sequence_of(settings, self.events, self.derived.starts)
        self.positioner = Positioner(settings)
        self.governor = governor_of(settings, self.positioner)
        self.totals = totals_of(settings)
        self.window_up = PulseWindow(settings[at("pulse_up_nL")])
        self.window_down = PulseWindow(settings[at("pulse_down_nL")])
        self.scans = 0
        self.uptime_ds = 0
        self.spare_ms = 0      # time not yet counted as a whole period
        self.last_ms = -1      # ticks of the scan before, -1 = none yet
        self.drains = 0        # 1 = the valve is or was opened to drain, and is not shut yet
        self.bad = 0           # bit i = channel i, which exists, cannot be trusted in this scan
        self.flows = False     # a window still holds pulses

    def run(self, now_ms):
        """Execute one scan at `now_ms` [ticks]; allocates nothing."""
        if (now_ms - self.last_ms) & TICKS_MASK == PERIOD_MS and self.last_ms >= 0:
            periods = 1  # the usual case: nothing is added to what is spare
        else:
            periods = self._periods(now_ms)
        self.last_ms = now_ms
        uptime_ds = self.uptime_ds + periods
        if uptime_ds > LONGEST_DS:
            uptime_ds = LONGEST_DS
        self.uptime_ds = uptime_ds
        values = self.values
        self.board.read(values)
        positioner = self.positioner
        if not positioner.is_begun:
            positioner.begin(values[VALVE_PERMILLE])
        self._validate(values, periods)
        if positioner.calm_periods and not positioner.is_learnt:
            self._learn_zero(values)
        if positioner.zero and values[VALVE_PERMILLE] != INVALID:
            values[VALVE_PERMILLE] = positioner.true(values[VALVE_PERMILLE])
        sequence = self.sequence
        protection = self.protection
        state = sequence.state
        self.events.begin_scan(state, uptime_ds)
        self.derived.fill(values, state, periods)
        protection.judge(values, self.bad, state)
        sequence.step(values, protection, periods)
        self._drive(values, state)
        if self.bad & FACTOR_BITS:
            self._count_without_bad(values, periods)
        else:
            self.totals.add(values, periods, self.outputs[OUT_PUMP])
        if self.scans < LONGEST_DS:
            self.scans += 1

    def _periods(self, now_ms):
        """Return the whole periods that a first, early or late scan stands for."""
        if self.last_ms < 0:
            return 1
        passed = (now_ms - self.last_ms) & TICKS_MASK
        # Bounded before the sum: the difference alone may be 2**30 - 1.
        passed = min(passed, MOST_PERIODS * PERIOD_MS) + self.spare_ms
        self.spare_ms = passed % PERIOD_MS
        return passed // PERIOD_MS

    def _validate(self, values, periods):
        """Mark what lies outside its legal range or does not exist, and derive the flows."""
        bad = 0
        for index, low, high in self.limits:
            if not low <= values[index] <= high:
                value = values[index]
                known = INVALID < value < INVALID + MOST_REASON
                self.why[index] = value - INVALID if known else OUT_OF_RANGE
                values[index] = INVALID
                bad |= 1 << index
        self.bad = bad
        if values[PULSES_UP] or values[PULSES_DOWN] or self.flows:
            self._flow(values, periods)
        else:
            values[FLOW_UP] = values[FLOW_DOWN] = 0
        if self.absent:
            for place in self.absent:
                values[place] = INVALID

    def _flow(self, values, periods):
        """Derive the flows from the pulses of the last FLOW_WINDOW_SCANS periods."""
        window_up = self.window_up
        window_down = self.window_down
        up = values[PULSES_UP]
        down = values[PULSES_DOWN]
        if not (0 <= up <= window_up.most and 0 <= down <= window_down.most):
            # No meter is that fast, none counts backwards: noise on the line.
            values[PULSES_UP] = up = max(0, min(up, window_up.most))
            values[PULSES_DOWN] = down = max(0, min(down, window_down.most))
        if periods > 1:
            # The periods that a late scan stands for lie in the window as well.
            for _ in range(min(periods, FLOW_WINDOW_SCANS) - 1):
                window_up.flow(0)
                window_down.flow(0)
        values[FLOW_UP] = values[FLOW_DOWN] = 0
        self.flows = False
        if up or window_up.sum:
            flow = window_up.flow(up)
            values[FLOW_UP] = flow if flow < MOST_FLOW_UP else MOST_FLOW_UP
            self.flows = True
        if down or window_down.sum:
            flow = window_down.flow(down)
            values[FLOW_DOWN] = flow if flow < MOST_FLOW_DOWN else MOST_FLOW_DOWN
            self.flows = True

    def _drive(self, values, state_before):
        """Set the outputs for the state just decided, and write them."""
        sequence = self.sequence
        state = sequence.state
        outputs = self.outputs
        positioner = self.positioner
        pump_on = 1 if state == TRIAL or state == PUMPING else 0
        position = values[VALVE_PERMILLE]
        if state == RUNNING:
            self._light(values, state_before)
        elif state == DRAINING:
            positioner.go(MILLIONTHS)
        elif positioner.goal:
            positioner.shut(position)
        if positioner.rests_in:
            positioner.rests_in -= 1  # the usual case by night: it stands where it should
        elif not positioner.is_home or positioner.goal or position > positioner.shut_permille:
            outputs[OUT_DRIVE] = positioner.drive(position)
        elif positioner.is_blind and values[GENERATOR_MV] >= LEAST_GENERATOR_MV:
            # The wheel has had its time to stand: the valve that was pressed shut is not.
            outputs[OUT_DRIVE] = positioner.drive(PERMILLE)
        # Else the usual case by day: it is pressed shut, and stays so.
        # What is open by a hair is not told as shut.
        valve = (positioner.aim + PERMILLE - 1) // PERMILLE
        # A full jet would overdrive the lamps: what drains goes to the dump load,
        # until the valve is shut again, whoever has it in hand meanwhile.
        if state == DRAINING:
            self.drains = 1
        elif self.drains and sequence.is_shut(values):
            self.drains = 0
        derived = self.derived
        outputs[OUT_PUMP] = derived.pump_on = pump_on
        outputs[OUT_VALVE] = sequence.valve_commanded = derived.commanded = valve
        derived.is_home = positioner.is_home
        outputs[OUT_LAMPS_OFF] = outputs[OUT_DUMP] = self.drains
        acting = self.protection.acting
        if acting[OVER_VOLTAGE] or acting[OVERSPEED]:
            outputs[OUT_DUMP] = 1
        self.board.write(outputs)

    def _light(self, values, state_before):
        """Let the governor hold the light."""
        setpoint = self.sequence.light.setpoint_mW
        if state_before != RUNNING:
            self.governor.start(setpoint)
        volts = values[GENERATOR_MV]
        amps = values[self.light_mA]
        power = INVALID  # what is not known must not open the valve
        if volts != INVALID and amps != INVALID:
            power = volts * amps // 1000 if volts > 0 and amps > 0 else 0
        self.governor.hold(power, setpoint)

    def _learn_zero(self, values):
        """Let the positioner learn what a valve that was pressed shut reads."""
        is_still = values[FLOW_DOWN] <= 0 and INVALID != values[GENERATOR_MV] < LEAST_GENERATOR_MV
        if self.positioner.learn(values[VALVE_PERMILLE], is_still):
            self.events.post(VALVE_ZERO, self.positioner.zero, 0)

    def _count_without_bad(self, values, periods):
        """Add to the totals with untrusted factors as 0; the values stay as they are."""
        bad = self.bad
        for index in FACTORS:
            if bad >> index & 1:
                values[index] = 0
        self.totals.add(values, periods, self.outputs[OUT_PUMP])
        for index in FACTORS:
            if bad >> index & 1:
                values[index] = INVALID
