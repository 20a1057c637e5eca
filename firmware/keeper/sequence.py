"""Which state of operation comes next: starts, stops, waits and lockout.

Looks for a cause in the values and the protection's verdict and takes the
transition that the table in `keeper.modes` gives.  It drives nothing.  All
times are counted in periods of 0.1 s.
"""

from keeper import settings as st
from keeper.channels import BUTTON, FLOW_UP, INVALID, PANEL_MV, VALVE_PERMILLE
from keeper.clock import PERIODS_PER_S
from keeper.elements import PUMP, TURBINE
from keeper.events import HELD_OFF, LOCKOUT, LOCKOUT_RESET, STATE
from keeper.modes import (
    CLOSING, LIGHT_DUE, LIGHT_OVER, NEXT, PUMPING, RUNNING, SAFE_STATE, STANDSTILL, STOPPED,
    SUN_ENOUGH, TOO_WEAK, TRIAL, TRIPPED, VALVE_SHUT, WATER_SEEN)
from keeper.actuators import MinimumTimes

NO_CAUSE = -1
LONGEST = 1 << 28  # a count of periods stops here: 310 days
# A press that may reset a lockout: long enough to be meant, short enough not
# to be a jammed button; measured between two releases.
PRESS_LEAST, PRESS_MOST = 1 * PERIODS_PER_S, 10 * PERIODS_PER_S
SIDES = (PUMP, TURBINE)


class Sequence:
    """State of operation of one rig."""

    def __init__(self, settings, events):
        """Take settings [list in table order]; changes of state are posted to `events`."""
        def periods(name):
            return settings[st.index(name)] * PERIODS_PER_S

        def plain(name):
            return settings[st.index(name)]

        self.events = events
        self.start_mV = plain("start_panel_mV")
        self.start_wait = periods("start_wait_s")
        self.dark_mV = plain("dark_panel_mV")
        self.dark_wait = periods("dark_s")
        self.useful_flow = plain("useful_flow_uL_s")
        self.trial = periods("trial_s")
        self.holdoff_first = periods("holdoff_s")
        self.holdoff_longest = periods("holdoff_longest_s")
        self.trip_wait = periods("trip_wait_s")
        self.trip_window = periods("trip_window_s")
        self.retries = plain("trip_retries")
        self.valve_shut = plain("valve_shut_permille")
        self.valve_told = 0      # what the valve was last told [permille]; the scan writes it
        self.setpoint_mW = plain("setpoint_mW")
        self.pump = MinimumTimes(plain("pump_least_on_s"), plain("pump_least_off_s"))
        self.light_least_off = periods("light_least_off_s")
        self.state = SAFE_STATE
        self.in_state = 0        # periods since the state was entered
        self.sunny = 0           # periods with the panel above the start voltage
        self.twilight = 0        # periods in which dark or bright contradicts `dark`
        self.dark = False        # it is night, as far as the panel shows
        self.weak = 0            # periods of pumping with too little flow
        self.holdoff = self.holdoff_first  # next wait after a weak start
        self.wait = [0, 0]       # periods until each side may start
        self.trips = [0, 0]      # trips in a row of each side
        self.since_trip = [LONGEST, LONGEST]
        self.lockouts = 0        # sides that wait for a person
        self.lockout_element = [0, 0]  # number of the element that locked each side out
        self.released = False    # the button has been seen open since the start
        self.pressed = 0         # periods that the button is held

    def step(self, values, protection, periods, uptime_ds):
        """Take one scan's `values` and the `protection` after its verdict; allocates nothing."""
        self._pass_time(values, periods)
        if protection.tripped:
            self._count_trips(values, protection, uptime_ds)
        self._button(values, protection, periods, uptime_ds)
        cause = self._cause(values, protection, periods)
        if cause != NO_CAUSE:
            self._enter(cause, values, protection, uptime_ds)

    def _pass_time(self, values, periods):
        self.in_state = min(LONGEST, self.in_state + periods)
        self.pump.tick(periods)
        for side in range(2):
            if self.wait[side] > 0:
                self.wait[side] -= periods
            if self.since_trip[side] < self.trip_window:
                self.since_trip[side] += periods
            else:
                self.trips[side] = 0
        panel_mV = values[PANEL_MV]
        self.sunny = min(LONGEST, self.sunny + periods) if panel_mV >= self.start_mV else 0
        # An untrusted panel voltage keeps what was last known of day and night.
        if panel_mV != INVALID and (panel_mV < self.dark_mV) != self.dark:
            self.twilight += periods
            if self.twilight >= self.dark_wait:
                self.dark = not self.dark
                self.twilight = 0
        else:
            self.twilight = 0

    def _cause(self, values, protection, periods):
        """Return the cause for leaving the present state, NO_CAUSE to stay."""
        state = self.state
        if state == STANDSTILL:
            if self.dark and self.setpoint_mW > 0:
                if self.in_state >= self.light_least_off and self._may(1, protection):
                    return LIGHT_DUE
            elif (self.sunny >= self.start_wait and self.pump.may_start()
                    and self._is_shut(values) and self._may(0, protection)):
                return SUN_ENOUGH
            return NO_CAUSE
        if state == CLOSING:
            return VALVE_SHUT if self._is_shut(values) else NO_CAUSE
        side = TURBINE if state == RUNNING else PUMP
        if (protection.tripped | self.lockouts) & side:
            return TRIPPED
        if protection.hold & side:
            return STOPPED
        if state == RUNNING:
            return LIGHT_OVER if not self.dark or self.setpoint_mW <= 0 else NO_CAUSE
        return self._pump_cause(values[FLOW_UP], periods)

    def _is_shut(self, values):
        """Return whether the valve is told to be shut and reports it."""
        position = values[VALVE_PERMILLE]
        return self.valve_told == 0 and INVALID != position <= self.valve_shut

    def _pump_cause(self, flow_uL_s, periods):
        """Judge a trial or a run by its flow [uL/s]: weak sun is not a fault."""
        if flow_uL_s >= self.useful_flow:
            self.weak = 0
            return WATER_SEEN if self.state == TRIAL else NO_CAUSE
        if self.state == TRIAL:
            return TOO_WEAK if self.in_state >= self.trial else NO_CAUSE
        self.weak += periods
        return TOO_WEAK if self.weak >= self.trial and self.pump.may_stop() else NO_CAUSE

    def _may(self, index, protection):
        """Return whether side `index` (0 pump, 1 turbine) is free to start."""
        side = SIDES[index]
        return self.wait[index] <= 0 and not (protection.hold | self.lockouts) & side

    def _enter(self, cause, values, protection, uptime_ds):
        """Take the transition for `cause`; none in the table leads to the safe state."""
        left = self.state
        state = NEXT[left][cause]
        if state < 0:
            state = SAFE_STATE
        if cause == TOO_WEAK:
            self._hold_off(left, values, uptime_ds)
        if state == TRIAL or state == RUNNING:
            protection.first = 0  # a new run, a new first-out
        self.state = state
        self.in_state = 0
        self.weak = 0
        self.pump.switch(1 if state == TRIAL or state == PUMPING else 0)
        self.events.post(STATE, left, cause, state, uptime_ds, values)

    def _hold_off(self, left, values, uptime_ds):
        """Wait after a start or run that lifted too little, longer each time.

        A run longer than the wait before it shows that the sun is back: then
        the wait begins anew.
        """
        if left == PUMPING and self.in_state > self.holdoff:
            self.holdoff = self.holdoff_first
        self.wait[0] = max(self.wait[0], self.holdoff)
        self.events.post(HELD_OFF, PUMP, self.holdoff // PERIODS_PER_S, left, uptime_ds, values)
        self.holdoff = min(2 * self.holdoff, self.holdoff_longest)

    def _count_trips(self, values, protection, uptime_ds):
        for index in range(2):
            side = SIDES[index]
            if protection.tripped & side and not self.lockouts & side:
                self.trips[index] += 1
                self.since_trip[index] = 0
                self.wait[index] = max(self.wait[index], self.trip_wait)
                if self.trips[index] > self.retries:
                    self.lockouts |= side
                    self.lockout_element[index] = protection.tripper[side]
                    self.events.post(LOCKOUT, protection.tripper[side], self.trips[index],
                                     self.state, uptime_ds, values)

    def _button(self, values, protection, periods, uptime_ds):
        """Release, press, release resets a lockout whose cause is gone."""
        if values[BUTTON]:
            self.pressed = min(LONGEST, self.pressed + periods)
            return
        if self.pressed and self.lockouts and self.released:
            if PRESS_LEAST <= self.pressed <= PRESS_MOST and not protection.hold & self.lockouts:
                self._unlock(values, uptime_ds)
        self.released = True
        self.pressed = 0

    def _unlock(self, values, uptime_ds):
        """End the lockout of every side, and count its trips anew."""
        for index in range(2):
            self.trips[index] = 0
            if self.lockouts & SIDES[index]:
                self.events.post(LOCKOUT_RESET, self.lockout_element[index], 0, self.state,
                                 uptime_ds, values)
        self.lockouts = 0
