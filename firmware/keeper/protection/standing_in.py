"""Values that a rig with fewer instruments is judged by, in place of those that it lacks.

What warms, how long a fill takes, when a float falls and whether the lamps are dark say
later and less what a meter would say at once.  Integers only, no allocation; a rig that
has the meters does not run any of this.
"""

from keeper.settings import index as at
from keeper.channels import (
    C_71H_UP, C_71L_UP, FLOW_DOWN, GENERATOR_MA, GENERATOR_MV, INVALID, LAMP_MA, LEVEL_MM,
    MOTOR_MDEGC, PANEL_MV, VALVE_PERMILLE)
from keeper.clock import PERIODS_PER_S
from keeper.modes import RUNNING
from keeper.protection.derived import (
    FELL_EARLY_S, FILLING_S, HEATS_MDEGC, JUDGED_MM, LAG_MDEGC, LEAST_GENERATOR_MV, LEAST_LAMP_MA,
    LEVEL_MEAN, LONGEST_PERIODS, NO_FLOW_DOWN, NO_VOLTS, SPENT, TOO_WARM_MDEGC, UNFILLED_MIN,
    WARMS_MDEGC, WARMS_TAUS, Derived)

WINDOW_S = 60            # over which a motor's warming is looked at; a guess
SOAK_S = 120             # after a stop its winding and its thermometer still even out; a guess
AGAIN_S = 600            # of a fill that did not come in its time: what a retry has; a guess
JUMP_MDEGC = 2000        # more in a second is no warming: a sensor's fault; a guess
LEAST_STOOD_S = 60       # a float that was up for less was not lifted by a full tank; a guess
S_PER_MIN = 60


class StandIns(Derived):
    """Derived values, and those that stand in for others."""

    def __init__(self, settings, why):
        """Take the settings [list in table order] and the reasons of bad channels."""
        Derived.__init__(self, settings, why)
        fitted = settings[at("fitted")]
        self.sees_empty = fitted & (1 << C_71L_UP | 1 << LEVEL_MM)
        self.light_mA = LAMP_MA if fitted >> LAMP_MA & 1 else GENERATOR_MA
        self.sees_sun = fitted >> PANEL_MV & 1
        self.warmth = Warmth(settings)
        self.settings = settings
        self.spare_periods = 0   # periods that are no whole second yet
        self.was_on = 0          # the pump, a scan before
        self.filling_s = 0       # pumping that must have lifted water, and nothing shows it
        self.unfilled_s = 0      # pumping since something showed that water was lifted
        self.mark_mm = INVALID   # level above which water was lifted
        self.is_up = False       # the full float
        self.is_full = False     # it was lifted, and no light has run since
        self.stood_s = 0         # how long it has been up at rest
        self.fell_early_s = 0
        self.was_lit = False     # the lamps had volts in this run

    def fill(self, values, state, periods):
        """Work out the derived values of a scan; allocates nothing."""
        Derived.fill(self, values, state, periods)
        self._light(values, state)
        self.spare_periods += periods
        if self.spare_periods >= PERIODS_PER_S:
            seconds = self.spare_periods // PERIODS_PER_S
            self.spare_periods -= seconds * PERIODS_PER_S
            self.warmth.follow(values, self.pump_on, seconds)
            self._fill(values, seconds)
            self._float(values, seconds)
            self.was_on = self.pump_on

    def _light(self, values, state):
        """Judge lamps that are dark behind an open valve."""
        volts = values[GENERATOR_MV]
        values[SPENT] = 0
        if state != RUNNING:
            self.was_lit = False
            return
        flow = values[FLOW_DOWN]
        # Without water the wheel still runs out, and no lamp takes anything.
        runs_out = (self.sees_flow_down and flow < self.seen_flow
                    and values[self.light_mA] < LEAST_LAMP_MA)
        if volts >= LEAST_GENERATOR_MV and not runs_out:
            self.was_lit = True
            # What was used must be lifted again.
            self.is_full = False
            self.filling_s = self.unfilled_s = 0
            return
        if volts == INVALID or self.sees_empty or flow >= self.seen_flow:
            return
        # A tank that was not seen full, or whose light was there, may well be empty: no fault.
        if self.was_lit or not self.is_full:
            position = values[VALVE_PERMILLE]
            values[SPENT] = self.commanded if position == INVALID else position
            values[NO_VOLTS] = values[NO_FLOW_DOWN] = 0

    def _fill(self, values, seconds):
        """Count how long the pump runs and no float, no level and no light shows that it lifts."""
        level = values[LEVEL_MEAN]
        if level == INVALID:
            self.mark_mm = INVALID
        elif self.mark_mm == INVALID or level < self.mark_mm - JUDGED_MM:
            self.mark_mm = level + JUDGED_MM
        is_lifted = not values[C_71H_UP] or INVALID != self.mark_mm <= level
        if is_lifted:
            self.filling_s = self.unfilled_s = 0
            self.mark_mm = INVALID
        elif self.pump_on:
            self.unfilled_s = min(LONGEST_PERIODS, self.unfilled_s + seconds)
            if not self.was_on:  # a retry has its own time
                most_s = max(0, self.settings[at("fill_most_s")] - AGAIN_S)
                self.filling_s = min(self.filling_s, most_s)
            if self.sees_sun and values[PANEL_MV] >= self.settings[at("fill_least_mV")]:
                self.filling_s = min(LONGEST_PERIODS, self.filling_s + seconds)
        values[FILLING_S] = self.filling_s
        values[UNFILLED_MIN] = self.unfilled_s // S_PER_MIN

    def _float(self, values, seconds):
        """Judge how long the full float stays up while nothing takes water."""
        is_up = not values[C_71H_UP]
        if is_up:
            self.is_full = True
        if self.commanded:
            self.stood_s = self.fell_early_s = 0
        elif is_up:
            self.stood_s = min(LONGEST_PERIODS, self.stood_s + seconds)
        elif self.is_up and self.stood_s >= LEAST_STOOD_S:
            self.fell_early_s = max(0, self.settings[at("float_fall_s")] - self.stood_s)
        if not is_up:
            self.stood_s = 0
        self.is_up = is_up
        values[FELL_EARLY_S] = self.fell_early_s


class Warmth:
    """What the motor's thermometer alone tells of a pump: how warm it may be, and how quickly.

    dT/dt = P / C + (Ta - T) / tau: bounded by the largest healthy loss and the
    hottest surroundings.
    """

    def __init__(self, settings):
        """Take the settings [list in table order]."""
        self.settings = settings
        self.ring = [INVALID] * WINDOW_S  # readings of the last minute, one a second
        self.place = 0
        self.was_on = 0
        self.run_s = self.rest_s = 0     # since the switch was closed, opened
        self.start_mdegC = INVALID       # the motor's reading as the run began

    def follow(self, values, pump_on, seconds):
        """Take the seconds since the last look, one unless a scan was late."""
        motor_mdegC = values[MOTOR_MDEGC]
        last_mdegC = self.ring[self.place - 1]
        jump_mdegC = motor_mdegC - last_mdegC
        if pump_on != self.was_on or motor_mdegC == INVALID or last_mdegC != INVALID and not (
                -JUMP_MDEGC < jump_mdegC < JUMP_MDEGC):
            for place in range(WINDOW_S):
                self.ring[place] = INVALID
        if pump_on != self.was_on:
            self.was_on = pump_on
            self.run_s = self.rest_s = 0
            self.start_mdegC = INVALID
        if motor_mdegC == INVALID:
            values[TOO_WARM_MDEGC] = values[HEATS_MDEGC] = values[WARMS_MDEGC] = INVALID
            return
        values[TOO_WARM_MDEGC] = values[HEATS_MDEGC] = values[WARMS_MDEGC] = 0
        for _ in range(min(seconds, WINDOW_S)):
            before_mdegC = self.ring[self.place]
            self.ring[self.place] = motor_mdegC
            self.place = (self.place + 1) % WINDOW_S
        if pump_on:
            self.run_s = min(LONGEST_PERIODS, self.run_s + seconds)
            values[TOO_WARM_MDEGC] = motor_mdegC - self._most(motor_mdegC)
        else:
            self.rest_s = min(LONGEST_PERIODS, self.rest_s + seconds)
        if before_mdegC == INVALID:
            return
        rise_mdegC = motor_mdegC - before_mdegC
        settings = self.settings
        if pump_on:
            values[HEATS_MDEGC] = rise_mdegC - settings[at("heating_mdegC")] - self._drawn(
                settings[at("hot_water_mdegC")] - before_mdegC, settings[at("thermal_tau_s")])
        elif self.rest_s >= SOAK_S:
            values[WARMS_MDEGC] = rise_mdegC - settings[at("warmth_noise_mdegC")] - self._drawn(
                settings[at("hot_air_mdegC")] - before_mdegC, settings[at("still_tau_s")])

    def _drawn(self, gap_mdegC, tau_s):
        """Return how much warmer than itself surroundings make it in the window at most."""
        return gap_mdegC * WINDOW_S // tau_s if gap_mdegC > 0 else 0

    def _most(self, motor_mdegC):
        """Return how warm a motor that works and is cooled may be by now [mdegC].

        What was warmer as the run began has cooled by all but a twentieth in three time
        constants, and never lies above the straight line.
        """
        if self.start_mdegC == INVALID:
            self.start_mdegC = motor_mdegC
        over_mdegC = self.start_mdegC + LAG_MDEGC - self.settings[at("working_most_mdegC")]
        if over_mdegC <= 0:
            return self.settings[at("working_most_mdegC")]
        whole_s = WARMS_TAUS * self.settings[at("thermal_tau_s")]
        permille = min(whole_s, self.run_s) * 1000 // whole_s
        return self.settings[at("working_most_mdegC")] + over_mdegC * (1000 - permille) // 1000
