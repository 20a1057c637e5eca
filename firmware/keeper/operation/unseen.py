"""Which state comes next in a rig that sees less: of the sun, of the water, of the lamps.

The pump is judged by its power, else by the panel's voltage, else not at all; where nothing
reads the panel it is tried whenever nothing bars it, and an order for light ends its run.
A rig that sees all of it does not load this.
"""

from keeper.settings import index as at
from keeper.channels import FLOW_UP, INVALID, PANEL_MV, PUMP_MA
from keeper.modes import (
    ORDERED_OFF, PUMPING, STOPPED, TRIAL, TRIAL_OVER, TRIPPED, WATER_SEEN)
from keeper.operation.sequence import NO_CAUSE, RUN_OF, Sequence
from keeper.protection.elements import number

TOO_WARM, SPENT = number("26-PMP") - 1, number("71L-LMP") - 1
DRY = number("71L-PMP") - 1


class UnseenSequence(Sequence):
    """State of operation of a rig with less.

    Attribute: is_spent, the lamps showed that the last light ended for want of water.
    """

    def __init__(self, settings, events, starts):
        """Take settings [list in table order]; post to `events`; count starts in `starts`."""
        Sequence.__init__(self, settings, events, starts)
        fitted = settings[at("fitted")]
        self.sees_sun = fitted >> PANEL_MV & 1
        self.sees_flow = fitted >> FLOW_UP & 1
        self.sees_power = self.sees_sun and fitted >> PUMP_MA & 1
        self.useful_mW = settings[at("useful_sure_mW")]
        self.judge_mV = settings[at("pump_judge_mV")]
        self.is_spent = 0
        if not self.sees_sun:
            self.start_mV = self.near_mV = INVALID

    def _pump_start(self, panel_mV, periods):
        """Return whether the pump starts: not while a light is about to begin."""
        if not self.sees_sun and self.light.due() and not self.light_rest.left_periods:
            return NO_CAUSE
        return Sequence._pump_start(self, panel_mV, periods)

    def _lifts(self, values):
        """Return whether the pump lifts a useful flow, as far as this rig can tell [bool].

        By its flow; else by its power, from which water goes up; else by the panel's voltage
        alone, which a pump in weak sun pulls down.
        """
        if self.sees_flow:
            return values[FLOW_UP] >= self.useful_flow
        panel_mV = values[PANEL_MV]
        if self.sees_power:
            pump_mA = values[PUMP_MA]
            # What cannot be trusted says nothing: the sensor's own element has the word.
            return (panel_mV == INVALID or pump_mA == INVALID
                    or panel_mV * pump_mA // 1000 >= self.useful_mW)
        return not self.sees_sun or panel_mV == INVALID or panel_mV >= self.judge_mV

    def _pump_cause(self, values, periods):
        """Judge a trial or a run by what it lifts, as far as that is seen."""
        # No reading of the sun ends this run: the light that is due does.
        if (not self.sees_sun and self.light.due() and not self.light_rest.left_periods
                and (self.state == TRIAL or self.pump.may_stop())):
            return ORDERED_OFF
        if not self._lifts(values):
            return self._weak_cause(periods)
        self.weak_periods = 0
        if self.state == PUMPING:
            return NO_CAUSE
        if self.sees_flow or self.sees_power:
            return WATER_SEEN
        return TRIAL_OVER if self.in_state_periods >= self.trial_periods else NO_CAUSE

    def _enter(self, cause, protection):
        """Take the transition for `cause`; see what a run of the pump was ended by."""
        left = self.state
        if RUN_OF[left] == 0 and cause in (STOPPED, TRIPPED, ORDERED_OFF):
            self._hold_off_unlifted(cause, protection)
        Sequence._enter(self, cause, protection)

    def _rest_light(self, protection):
        """The light rests after a stop, longer each time; for long where the water is spent."""
        self.is_spent = protection.acting[SPENT]
        if self.is_spent:
            self.light_rest.lengthen()
        Sequence._rest_light(self, protection)

    def _hold_off_unlifted(self, cause, protection):
        """Wait, longer each time, after a run that was ended by a pump which lifts nothing.

        In a weak sun, or dry: the sun comes back, and the water may.  Not after one that a full
        tank ended, or that lasted for longer than the wait.
        """
        acting = protection.acting
        if cause == STOPPED and (acting[TOO_WARM] or acting[DRY]):
            self.holdoff_periods = max(self.holdoff_periods, self.trip_wait_periods)
            self._hold_off(TRIAL)
        elif not self.sees_flow and (
                cause == STOPPED or self.in_state_periods > self.holdoff_periods):
            self.holdoff_periods = self.holdoff_first_periods
