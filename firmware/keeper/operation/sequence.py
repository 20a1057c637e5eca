"""Which state of operation comes next: starts, stops, waits and holds.

Looks for a cause in the values, the protection's verdict and the wishes, and
takes the transition that the table in `keeper.modes` gives.  It drives
nothing.
"""

from keeper.settings import index as at
from keeper.operation.actuators import GrowingRest, MinimumTimes
from keeper.operation.button import LONG, SHORT, Button
from keeper.channels import BUTTON, FLOW_UP, INVALID, PANEL_MV, VALVE_PERMILLE
from keeper.clock import PERIODS_PER_S
from keeper.protection.elements import PUMP, TURBINE, number
from keeper.events import FIRST_TOLD, HELD_OFF, RESTARTED, STATE, Repeats
from keeper.operation.light import LONGEST_PERIODS, Light
from keeper.operation.sun import UnusedSun
from keeper.protection.lockout import Lockout
from keeper.modes import (
    CLOSING, DRAIN_ORDERED, DRAINING, LIGHT_DUE, LIGHT_OVER, MAINTENANCE, MAINTENANCE_ORDERED,
    NEXT, ORDER_OVER, ORDERED_OFF, PUMPING, RUNNING, SAFE_STATE, STANDSTILL, STOPPED,
    SUN_ENOUGH, TOO_WEAK, TRIAL, TRIPPED, VALVE_SHUT, WATER_SEEN)

NO_CAUSE = -1
SIDES = (PUMP, TURBINE)
LOCAL_STOP = number("5-STP") - 1
# By state: the side whose run it belongs to, as a place in SIDES; -1 = neither's.
RUN_OF = (-1, 0, 0, 1, 1, -1, -1)
STEADY_PERIODS = 120 * PERIODS_PER_S  # a run of so long is no chatter; a guess
# Of `Sequence.start_mark`: no start of the pump is under way; one is to be marked in what
# outlives a restart; it is marked there, and nothing good is known of it yet.
UNMARKED, TO_MARK, MARKED = range(3)
# A run of so long is well, longer than any delay of a trip; as long a mark waits for a start.
PROVEN_PERIODS = 150 * PERIODS_PER_S


class Sequence:
    """State of operation of one rig."""

    def __init__(self, settings, events, starts):
        """Take settings [list in table order]; post to `events`; count starts in `starts`."""
        self.events = events
        self.repeats = Repeats(events, len(SIDES))  # starts that a stop ended soon, by side
        self.starts = starts
        self.light = Light(settings, events)
        self.lockout = Lockout(settings, events)
        self.button = Button()
        self.start_mV = settings[at("start_panel_mV")]
        self.unused_sun = UnusedSun(self.start_mV, events)
        self.near_mV = self.unused_sun.near_mV
        self.start_wait_periods = settings[at("start_wait_s")] * PERIODS_PER_S
        self.useful_flow = settings[at("useful_flow_uL_s")]
        self.trial_periods = settings[at("trial_s")] * PERIODS_PER_S
        self.holdoff_first_periods = settings[at("holdoff_s")] * PERIODS_PER_S
        self.holdoff_longest_periods = settings[at("holdoff_longest_s")] * PERIODS_PER_S
        self.trip_wait_periods = settings[at("trip_wait_s")] * PERIODS_PER_S
        self.marks_starts = False  # something outlives a restart
        self.start_mark = UNMARKED
        self.marked_periods = 0  # periods in this state since the start was marked
        self.valve_shut = settings[at("valve_shut_permille")]
        self.valve_fitted = settings[at("fitted")] >> VALVE_PERMILLE & 1
        self.valve_travel_periods = settings[at("valve_travel_ms")] * PERIODS_PER_S // 1000
        self.valve_commanded = 0  # the scan writes it [permille]
        self.commanded_shut_periods = 0  # periods since it was commanded shut
        self.pump = MinimumTimes(settings[at("pump_least_on_s")],
                                 settings[at("pump_least_off_s")])
        self.light_least_off_periods = settings[at("light_least_off_s")] * PERIODS_PER_S
        self.light_rest = GrowingRest(settings[at("light_least_off_s")],
                                      settings[at("light_rest_longest_s")])
        self.state = SAFE_STATE
        self.in_state_periods = 0  # periods since the state was entered
        self.cause = NO_CAUSE    # why it was entered
        self.sunny_periods = 0   # periods with the panel above the start voltage
        self.weak_periods = 0    # periods of pumping with too little flow
        self.holdoff_periods = self.holdoff_first_periods  # next wait after a weak start
        self.wait_periods = [0, 0]  # periods until each side may start
        self.maintenance = False # ordered: everything stands
        self.held_safe = False   # maintenance that no order ends
        self.drain_periods = 0   # periods of drain-down that an order still holds
        self.forbidden_periods = 0  # periods in which the pump may not run, by order


    def step(self, values, protection, periods):
        """Take one scan's `values` and the `protection` after its verdict; allocates nothing."""
        self._pass_time(values, periods)
        light = self.light
        light.pass_time(values, periods)
        if light.asked:
            light.asked = False
            self.light_rest.end()
        if light.dark:
            self.unused_sun.was_told = False
        tripped = protection.tripped
        if tripped or protection.acting[LOCAL_STOP]:
            wait_periods = self.wait_periods
            for index in range(2):
                # Whoever releases the local stop must not meet a start at once.
                if tripped & SIDES[index] or protection.acting[LOCAL_STOP]:
                    wait_periods[index] = max(wait_periods[index], self.trip_wait_periods)
            if tripped:
                self.lockout.count(protection)
        button = self.button
        if values[BUTTON] or button.held_periods or not button.released:
            self._press(button.follow(values[BUTTON], periods), protection)
        cause = self._cause(values, protection, periods)
        if self.start_mark == MARKED:
            self._prove(protection, periods)
        if cause != NO_CAUSE:
            self._enter(cause, protection)

    def _pass_time(self, values, periods):
        """Let `periods` pass; a count that has come to LONGEST_PERIODS stands still."""
        if self.in_state_periods < LONGEST_PERIODS:
            self.in_state_periods += periods
        if self.valve_commanded:
            self.commanded_shut_periods = 0
        elif self.commanded_shut_periods < LONGEST_PERIODS:
            self.commanded_shut_periods += periods
        if self.pump.left_periods:
            self.pump.tick(periods)
        if self.light_rest.left_periods:
            self.light_rest.tick(periods)
        if self.lockout.counted:
            self.lockout.pass_time(periods)
        wait_periods = self.wait_periods
        if wait_periods[0] > 0:
            wait_periods[0] -= periods
        if wait_periods[1] > 0:
            wait_periods[1] -= periods
        if self.drain_periods:
            self.drain_periods = max(0, self.drain_periods - periods)
        if self.forbidden_periods:
            self.forbidden_periods = max(0, self.forbidden_periods - periods)
        if values[PANEL_MV] < self.start_mV:
            self.sunny_periods = 0
        elif self.sunny_periods < LONGEST_PERIODS:
            self.sunny_periods += periods

    def _press(self, press, protection):
        """A long press resets a lockout whose cause is gone; a short one is about the light.

        Whoever tries to reset must not have light begin with the reset.
        """
        if self.lockout.sides:
            if press == LONG and not protection.cause_present():
                self.unlock()
        elif press == SHORT:
            self.light.pressed()

    def unlock(self):
        """End a lockout; the caller has asked for its cause.

        A drain does not go on by itself; light that is wanted comes after its waits.
        """
        self.drain_periods = 0
        self.lockout.reset()

    def _cause(self, values, protection, periods):
        """Return the cause for leaving the present state, NO_CAUSE to stay."""
        state = self.state
        if state == STANDSTILL:
            return self._start(values, protection, periods)
        if state == CLOSING:
            shut = self.is_shut(values)
            # A valve that does not report shut has had its time to obey.
            if self.maintenance and (
                    shut or self.commanded_shut_periods >= self.valve_travel_periods):
                return MAINTENANCE_ORDERED
            return VALVE_SHUT if shut else NO_CAUSE
        if state == MAINTENANCE:
            return NO_CAUSE if self.maintenance else ORDER_OVER
        side = PUMP if state == TRIAL or state == PUMPING else TURBINE
        if (protection.tripped | self.lockout.sides) & side:
            return TRIPPED
        if protection.hold & side:
            return STOPPED
        if state == DRAINING:
            return NO_CAUSE if self.drain_periods and not self.maintenance else ORDER_OVER
        if self.maintenance or self.drain_periods:
            return ORDERED_OFF
        if state == RUNNING:
            return NO_CAUSE if self.light.due() else LIGHT_OVER
        if self.forbidden_periods:
            return ORDERED_OFF
        return self._pump_cause(values, periods)

    def _start(self, values, protection, periods):
        """Return what may begin from standstill."""
        if self.maintenance:
            return MAINTENANCE_ORDERED
        if self.drain_periods:
            free = self.wait_periods[1] <= 0 and not self.lockout.sides and (
                not protection.holds_in(TURBINE, DRAINING))
            return DRAIN_ORDERED if free else NO_CAUSE
        if (self.light.due() and self.in_state_periods >= self.light_least_off_periods
                and not self.light_rest.left_periods and self._may(1, protection)):
            return LIGHT_DUE
        if values[PANEL_MV] < self.near_mV:  # the usual case: no sun at all
            self.unused_sun.periods = 0
            return NO_CAUSE
        if (self.light.dark or self.forbidden_periods or not self.pump.may_start()
                or not self.is_shut(values) or not self._may(0, protection)):
            self.unused_sun.periods = 0
            return NO_CAUSE
        return self._pump_start(values[PANEL_MV], periods)

    def _pump_start(self, panel_mV, periods):
        """Return whether the sun starts the pump, which nothing bars: not before it is marked."""
        if self.sunny_periods >= self.start_wait_periods:
            if self.start_mark == MARKED or not self.marks_starts:
                return SUN_ENOUGH
            self.start_mark = TO_MARK
            return NO_CAUSE
        self.unused_sun.look(panel_mV, periods)
        return NO_CAUSE

    def start_is_marked(self):
        """The start that was to be marked is, or cannot be: the pump may start."""
        self.start_mark = MARKED
        self.marked_periods = 0

    def _prove(self, protection, periods):
        """Take the mark off a run that is well, or that has not come about."""
        self.marked_periods += periods
        if self.marked_periods < PROVEN_PERIODS or self.state == TRIAL:
            return
        if self.state != PUMPING or not protection.may_trip(PUMP):
            self.start_mark = UNMARKED

    def is_shut(self, values):
        """Return whether the valve is commanded shut and reports it, or has had the time."""
        if self.valve_commanded:
            return False
        if not self.valve_fitted:
            return self.commanded_shut_periods >= self.valve_travel_periods
        return INVALID != values[VALVE_PERMILLE] <= self.valve_shut

    def _pump_cause(self, values, periods):
        """Judge a trial or a run by its flow: weak sun is not a fault."""
        if values[FLOW_UP] >= self.useful_flow:
            self.weak_periods = 0
            return WATER_SEEN if self.state == TRIAL else NO_CAUSE
        return self._weak_cause(periods)

    def _weak_cause(self, periods):
        """Judge a trial or a run that lifts too little."""
        if self.state == TRIAL:
            return TOO_WEAK if self.in_state_periods >= self.trial_periods else NO_CAUSE
        self.weak_periods += periods
        too_weak = self.weak_periods >= self.trial_periods and self.pump.may_stop()
        return TOO_WEAK if too_weak else NO_CAUSE

    def _may(self, index, protection):
        """Return whether side `index` (0 pump, 1 turbine) is free to start."""
        barred = protection.hold | protection.inhibit | self.lockout.sides
        return self.wait_periods[index] <= 0 and not barred & SIDES[index]

    def _enter(self, cause, protection):
        """Take the transition for `cause`; none in the table leads to the safe state."""
        left = self.state
        state = NEXT[left][cause]
        if state < 0:
            state = SAFE_STATE
        if cause == TOO_WEAK:
            self._hold_off(left)
        if state == TRIAL:
            self.starts.count()
            self.unused_sun.was_told = True
        if state == TRIAL or state == RUNNING:
            protection.first = 0  # a new run, a new first-out
            self.repeats.occur(RUN_OF[state], FIRST_TOLD)
        if left == RUNNING and (cause == STOPPED or cause == TRIPPED) and (
                not protection.acting[LOCAL_STOP]):  # that is a person's wish
            self._rest_light(protection)
        self.state = self.events.state = state
        self.cause = cause
        self.in_state_periods = 0
        self.marked_periods = self.unused_sun.periods = 0
        self.pump.switch(1 if state == TRIAL or state == PUMPING else 0)
        self._tell(left, cause)

    def _tell(self, left, cause):
        """Tell the change of state, unless it belongs to one of too many stopped starts."""
        state, repeats = self.state, self.repeats
        side = RUN_OF[left] if RUN_OF[left] >= 0 else RUN_OF[state]
        if side < 0 or not repeats.hidden[side] or cause == TRIPPED or state == MAINTENANCE:
            self.events.post(STATE, left, cause)
        if side < 0 or RUN_OF[state] == side and state != CLOSING:
            return
        # The run is over: its outcome is known, and only a stop makes the next one a repeat.
        if side == 0:
            self.start_mark = UNMARKED
        if left != CLOSING and cause != STOPPED:
            repeats.end(side)
        if state != CLOSING:
            repeats.hidden[side] = 0

    def tell_repeats(self):
        """Tell the stopped starts that were not told, where that is due; between two scans."""
        running = [RUN_OF[self.state] == side for side in range(len(SIDES))]
        for side in range(len(SIDES)):
            if running[side] and self.in_state_periods >= STEADY_PERIODS:
                self.repeats.end(side)
        self.repeats.due(RESTARTED, PUMP, running)

    def _rest_light(self, protection):
        """The light rests after a stop, longer each time."""
        rest_periods = self.light_rest.begin(self.in_state_periods)
        told = not self.repeats.hidden[RUN_OF[RUNNING]]
        if told and rest_periods > self.light_least_off_periods:
            self.events.post(HELD_OFF, TURBINE, rest_periods // PERIODS_PER_S)

    def _hold_off(self, left):
        """Wait after a start or run that lifted too little, longer each time.

        A run longer than the wait that would follow shows that the sun is
        back: then the wait begins anew.  What runs has no other wait left.
        """
        if left == PUMPING and self.in_state_periods > self.holdoff_periods:
            self.holdoff_periods = self.holdoff_first_periods
        self.wait_periods[0] = self.holdoff_periods
        self.events.post(HELD_OFF, PUMP, self.holdoff_periods // PERIODS_PER_S)
        self.holdoff_periods = min(2 * self.holdoff_periods, self.holdoff_longest_periods)
