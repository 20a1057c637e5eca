"""Values that protection judges but no instrument reads: worked out in every scan.

Owns the list of derived values and the memory that they need (filters,
references).  Integers only, no allocation; knows no element and no mode but
the state it is told.  A derived value is 0 while it has nothing to say, and
INVALID while what it is made of cannot be trusted.
"""

from keeper.settings import index as at
from keeper.channels import (
    CHANNELS, CH_HIGH, CLIPPED, C_71HH_UP, C_71H_UP, C_STOP, FLOW_DOWN, FLOW_UP, GENERATOR_MA,
    GENERATOR_MV, INVALID, LAMP_MA, LEVEL_MM, MOTOR_MDEGC, PANEL_MV, PULSES_DOWN, PULSES_UP,
    PUMP_MA, READ, VALVE_PERMILLE, WATER_MDEGC)
from keeper.clock import PERIODS_PER_S
from keeper.modes import CLOSING, DRAINING, PUMPING, RUNNING, STANDSTILL
from keeper.protection.volumes import Volumes

# name, unit, the readings that it cannot do without
DERIVED = (
    ("welded_mA", "mA", (PUMP_MA,)),
    ("missing_mA", "mA", (PANEL_MV, PUMP_MA)),
    ("stall_mV", "mV", (PANEL_MV, PUMP_MA)),
    ("no_flow_up_mW", "mW", (PANEL_MV, PUMP_MA, FLOW_UP)),
    ("no_flow_down_permille", "permille", (FLOW_DOWN,)),
    ("dark_lamps_mV", "mV", (GENERATOR_MV, LAMP_MA)),
    ("emf_mV", "mV", (GENERATOR_MV,)),
    ("valve_gap_permille", "permille", (VALVE_PERMILLE,)),
    ("shut_flow_uL_s", "uL/s", (FLOW_DOWN,)),
    ("level_mean_mm", "mm", (LEVEL_MM,)),
    ("level_gap_mm", "mm", (LEVEL_MM, FLOW_UP, FLOW_DOWN)),
    ("leak_mm", "mm", (LEVEL_MM,)),
    ("starts_milli", "1/1000", ()),
    ("thermal_permille", "permille", (PUMP_MA,)),
    ("motor_still_s", "s", (MOTOR_MDEGC,)),
    ("no_volts_permille", "permille", (GENERATOR_MV,)),
    ("not_shut_permille", "permille", (VALVE_PERMILLE,)),
    ("open_lead_mV", "mV", (PANEL_MV, PUMP_MA)),
    ("little_flow_mW", "mW", (PANEL_MV, PUMP_MA, FLOW_UP)),
    ("missing_rise_mdegC", "mdegC", (MOTOR_MDEGC, WATER_MDEGC)),
    ("shut_leak_uL_s", "uL/s", (FLOW_DOWN,)),
    ("lamp_gap_mA", "mA", (GENERATOR_MV, GENERATOR_MA, LAMP_MA)),
    ("generator_mW", "mW", (GENERATOR_MV, GENERATOR_MA)),
    # Of rigs that lack an instrument: `keeper.protection.standing_in`.
    ("too_warm_mdegC", "mdegC", (MOTOR_MDEGC,)),
    ("heats_mdegC", "mdegC", (MOTOR_MDEGC,)),
    ("warms_mdegC", "mdegC", (MOTOR_MDEGC,)),
    ("filling_s", "s", (PANEL_MV,)),
    ("unfilled_min", "min", ()),
    ("spent_permille", "permille", (GENERATOR_MV,)),
    ("fell_early_s", "s", (C_71H_UP,)),
)
(WELDED_MA, MISSING_MA, STALL_MV, NO_FLOW_UP_MW, NO_FLOW_DOWN, DARK_LAMPS_MV, EMF_MV,
 VALVE_GAP, SHUT_FLOW, LEVEL_MEAN, LEVEL_GAP, LEAK_MM, STARTS_MILLI, THERMAL,
 MOTOR_STILL_S, NO_VOLTS, NOT_SHUT, OPEN_LEAD_MV, LITTLE_FLOW_MW, MISSING_RISE_MDEGC, SHUT_LEAK,
 LAMP_GAP_MA, GENERATOR_MW, TOO_WARM_MDEGC, HEATS_MDEGC, WARMS_MDEGC, FILLING_S, UNFILLED_MIN,
 SPENT, FELL_EARLY_S) = range(READ, READ + len(DERIVED))
VALUES = READ + len(DERIVED)
D_NAME, D_UNIT, D_NEEDS = range(3)


def _bits(places):
    bits = 0
    for place in places:
        bits |= 1 << place
    return bits


# The readings as bits.  A list, as in `keeper.integers`: a board lets it go after the start.
NEEDS = [_bits(row[D_NEEDS]) for row in DERIVED]

MEAN_SHIFT = 7            # the mean of the level forgets over 2**7 scans
LEAST_LAMP_MA = 5         # five steps of the monitor: below it a lamp draws nothing; a guess
LEAST_GENERATOR_MV = 1000  # a wheel that turns under load gives more; a guess
JUDGED_MM = 50            # change of level after which the volumes are compared; a guess
COMPARISON_MOST_PERIODS = 3600 * PERIODS_PER_S
SETTLE_PERIODS = 120 * PERIODS_PER_S  # a tank comes to rest in this time; a guess
LEAK_WATCH_PERIODS = 6 * 3600 * PERIODS_PER_S  # after this the leak is looked for anew
# A motor that cools is never quicker than in a straight line of one time constant, one
# that warms never slower than in one of three; but for the lag of sensor and pipe: a guess.
COOLS_TAUS, WARMS_TAUS = 1, 3
LAG_MDEGC = 3000
LONGEST_PERIODS = 1 << 28  # a count of periods stops here: 310 days
MOST_PUMP_MA = CHANNELS[PUMP_MA][CH_HIGH]
NL_PER_ML = 1000000
HEAT_PER_PERMILLE = 1000  # of `Heat.heat`: 1 000 000 is what the base current makes


class Derived:
    """Fills values[READ:].  `starts` and `heat` are retained over a restart."""

    def __init__(self, settings, why):
        """Take the settings [list in table order] and the reasons of bad channels."""
        self.why = why
        self.dry_base_mA = settings[at("dry_base_mA")]
        self.dry_gain = settings[at("dry_gain_uA_V2")]
        self.judge_mV = settings[at("pump_judge_mV")]
        self.stall_mohm = settings[at("stall_mohm")]
        self.stall_least_mA = settings[at("stall_least_mA")]
        self.lead_mA = settings[at("lead_mA")]
        self.seen_flow = settings[at("seen_flow_uL_s")]
        self.useful_flow = settings[at("useful_flow_uL_s")]
        self.trickle_mW = settings[at("trickle_mW")]
        self.valve_open = settings[at("valve_open_permille")]
        self.leak_mm = settings[at("leak_mm")]
        self.clamp_free_mV = settings[at("clamp_free_mV")]
        self.rise_mdegC = settings[at("motor_rise_mdegC")]
        self.tau_s = settings[at("thermal_tau_s")]
        self.generator_mohm = settings[at("generator_mohm")]
        self.pulse_up_nL = settings[at("pulse_up_nL")]
        self.pulse_down_nL = settings[at("pulse_down_nL")]
        # Without a meter only the wheel shows whether water comes through the valve.
        self.sees_flow_down = settings[at("fitted")] >> FLOW_DOWN & 1
        self.volumes = Volumes(settings)
        self.heat = Heat(settings[at("thermal_base_mA")], settings[at("thermal_tau_s")])
        self.starts = Starts(settings[at("starts_per_hour")])
        self.commanded = 0       # valve position of the scan before [permille]
        self.is_home = False     # the valve was pressed shut, as of the scan before
        self.pump_on = 0         # pump switch of the scan before
        self.pump_told = False   # what is worked out of the pump may be other than 0
        self.mean = INVALID      # mean level, in 1/2**MEAN_SHIFT mm; INVALID = none yet
        self.from_mm = INVALID   # level at the start of the comparison with the volumes
        self.half_way_mm = INVALID  # level of which ...
        self.half_way_mL_mm = 1  # ... a millimetre holds so much
        # Metered volume since then, up less down, and parts of a millilitre that wait.
        self.net_mL = self.up_nL = self.down_nL = 0
        self.compared_periods = 0  # periods since then
        self.gap_mm = 0          # result of the last comparison
        self.rest_periods = 0    # periods at standstill
        self.rest_mm = INVALID   # level after settling
        self.moved_mdegC = INVALID
        self.still_periods = 0   # periods of pumping since the motor's reading moved
        self.run_periods = 0     # periods of this run
        self.start_mdegC = 0     # the motor's reading as it began

    def fill(self, values, state, periods):
        """Work out the derived values of a scan; allocates nothing."""
        pump_mA = values[PUMP_MA]
        heat = self.heat
        starts = self.starts
        if pump_mA != INVALID:
            heat.pass_time(pump_mA, periods)
        else:
            # Beyond the monitor's range is much, not nothing.
            clipped = self.pump_on and self.why[PUMP_MA] == CLIPPED
            heat.pass_time(MOST_PUMP_MA if clipped else 0, periods)
        if starts.milli:
            starts.pass_time(periods)
        values[THERMAL] = heat.heat // HEAT_PER_PERMILLE
        values[STARTS_MILLI] = starts.milli
        if self.pump_on:
            values[WELDED_MA] = 0
            self._pump(values, pump_mA)
            self.pump_told = True
        else:
            values[WELDED_MA] = pump_mA
            if self.pump_told:
                self.pump_told = False
                self._tell_pump(values, 0)
        self._turbine(values, state)
        self._levels(values, state, periods)
        if state == PUMPING:
            self._motor(values, periods)
        else:
            self.moved_mdegC = values[MOTOR_MDEGC]
            self.still_periods = 0
            values[MOTOR_STILL_S] = values[MISSING_RISE_MDEGC] = 0
            self.run_periods = 0

    def _tell_pump(self, values, nothing):
        """Nothing can be said of the pump (0), or not be trusted (INVALID)."""
        values[MISSING_MA] = values[STALL_MV] = values[NO_FLOW_UP_MW] = nothing
        values[OPEN_LEAD_MV] = values[LITTLE_FLOW_MW] = nothing

    def _pump(self, values, pump_mA):
        """Judge the running pump by its voltage, current and flow."""
        panel_mV = values[PANEL_MV]
        if panel_mV == INVALID or pump_mA == INVALID:
            self._tell_pump(values, INVALID)
            return
        values[MISSING_MA] = values[STALL_MV] = values[NO_FLOW_UP_MW] = 0
        values[OPEN_LEAD_MV] = values[LITTLE_FLOW_MW] = 0
        # The hardware has cut the motor: no current is no news.
        if not values[C_71HH_UP] or not values[C_STOP]:
            return
        if panel_mV >= self.judge_mV:
            if pump_mA < self.lead_mA:
                values[OPEN_LEAD_MV] = panel_mV  # even an idle motor draws more
            else:
                volts = panel_mV // 1000
                least = self.dry_base_mA + volts * volts * self.dry_gain // 1000
                values[MISSING_MA] = least - pump_mA
        flow = values[FLOW_UP]
        power_mW = panel_mV * pump_mA // 1000
        if flow >= self.seen_flow:
            if flow < self.useful_flow:
                values[LITTLE_FLOW_MW] = power_mW
            return
        if pump_mA >= self.stall_least_mA:
            values[STALL_MV] = self.stall_mohm * pump_mA // 1000 - panel_mV
        # A few pulses are noise, or a trickle of a weak sun: more power must be behind them.
        values[NO_FLOW_UP_MW] = power_mW - self.trickle_mW if flow else power_mW

    def _turbine(self, values, state):
        """Judge valve, generator and lamps."""
        position = values[VALVE_PERMILLE]
        commanded = self.commanded
        flow = values[FLOW_DOWN]
        if position == INVALID:
            position = commanded
            values[VALVE_GAP] = INVALID
        else:
            gap = position - commanded
            values[VALVE_GAP] = gap if gap >= 0 else -gap
        values[NOT_SHUT] = position if self.is_home else 0
        seen = flow >= self.seen_flow  # a few pulses may be noise
        values[NO_FLOW_DOWN] = 0 if seen else position
        volts = values[GENERATOR_MV]
        values[SHUT_FLOW] = values[SHUT_LEAK] = 0
        if flow and commanded == 0 and (
                state != CLOSING and state != RUNNING and state != DRAINING):
            values[SHUT_FLOW] = flow
            # A meter alone may hum.  The fall of the level is that of the scan before.
            if (volts >= LEAST_GENERATOR_MV or position > self.valve_open
                    or values[LEAK_MM] > self.leak_mm):
                values[SHUT_LEAK] = flow
        if volts == INVALID:
            values[DARK_LAMPS_MV] = values[EMF_MV] = values[NO_VOLTS] = INVALID
            values[LAMP_GAP_MA] = values[GENERATOR_MW] = INVALID
            return
        lamp_mA = values[LAMP_MA]
        turns = volts >= LEAST_GENERATOR_MV
        values[NO_VOLTS] = 0 if turns or self.sees_flow_down and not seen else position
        values[DARK_LAMPS_MV] = volts if INVALID != lamp_mA < LEAST_LAMP_MA else 0
        amps = values[GENERATOR_MA]
        values[EMF_MV] = volts + (self.generator_mohm * amps // 1000 if amps > 0 else 0)
        if state == RUNNING:
            self._loads(values, volts, amps, lamp_mA)
        else:
            values[LAMP_GAP_MA] = values[GENERATOR_MW] = 0

    def _loads(self, values, volts, amps, lamp_mA):
        """Judge what the generator gives, and whether the lamps take it; the dump load is off."""
        values[LAMP_GAP_MA] = values[GENERATOR_MW] = INVALID
        if amps == INVALID:
            return
        values[GENERATOR_MW] = volts * amps // 1000
        if lamp_mA != INVALID:
            gap = amps - lamp_mA
            # Beyond, the clamp may carry the rest.
            values[LAMP_GAP_MA] = 0 if volts >= self.clamp_free_mV else gap if gap >= 0 else -gap

    def _levels(self, values, state, periods):
        """Follow the mean level, its agreement with the volumes, and leaks."""
        level = values[LEVEL_MM]
        if level == INVALID:
            self.mean = self.from_mm = self.rest_mm = INVALID
            values[LEVEL_MEAN] = INVALID
            values[LEVEL_GAP] = values[LEAK_MM] = self.gap_mm = 0
            return
        mean = self.mean
        if mean == INVALID:
            mean = level << MEAN_SHIFT
        else:
            mean += level - (mean >> MEAN_SHIFT)
        self.mean = mean
        mean >>= MEAN_SHIFT
        values[LEVEL_MEAN] = mean
        if values[PULSES_UP] or values[PULSES_DOWN]:
            self._count(values)
        self.compared_periods += periods
        if self.from_mm == INVALID:
            self._begin_comparison(mean)
        # Where the surface changes with the level, that half-way is the mean one.
        half_way = (mean + self.from_mm) >> 1
        if half_way != self.half_way_mm:
            self.half_way_mm = half_way
            self.half_way_mL_mm = self.volumes.mL_per_mm(half_way)
        metered = self.net_mL // self.half_way_mL_mm
        moved = mean - self.from_mm
        if moved >= JUDGED_MM or moved <= -JUDGED_MM or (
                metered >= JUDGED_MM or metered <= -JUDGED_MM):
            gap = moved - metered
            self.gap_mm = gap if gap >= 0 else -gap
            self._begin_comparison(mean)
        elif self.compared_periods >= COMPARISON_MOST_PERIODS:
            self._begin_comparison(mean)
        values[LEVEL_GAP] = self.gap_mm
        if state != STANDSTILL or self.commanded:
            self.rest_periods = 0
            values[LEAK_MM] = 0
        else:
            values[LEAK_MM] = self._leak(mean, periods)

    def _begin_comparison(self, mean):
        self.from_mm = mean
        self.net_mL = 0
        self.compared_periods = 0

    def _count(self, values):
        """Add the metered volumes of a scan, less the parts of a millilitre."""
        if values[PULSES_UP]:
            self.up_nL += values[PULSES_UP] * self.pulse_up_nL
            self.net_mL += self.up_nL // NL_PER_ML
            self.up_nL %= NL_PER_ML
        if values[PULSES_DOWN]:
            self.down_nL += values[PULSES_DOWN] * self.pulse_down_nL
            self.net_mL -= self.down_nL // NL_PER_ML
            self.down_nL %= NL_PER_ML

    def _leak(self, mean, periods):
        """Return the fall of the level [mm] since the tank came to rest; the rig stands."""
        self.rest_periods += periods
        if self.rest_periods < SETTLE_PERIODS:
            return 0
        just_settled = self.rest_periods - periods < SETTLE_PERIODS
        if self.rest_mm == INVALID or just_settled or self.rest_periods >= LEAK_WATCH_PERIODS:
            self.rest_mm = mean
            self.rest_periods = SETTLE_PERIODS
        return self.rest_mm - mean

    def _motor(self, values, periods):
        """Count how long the pump runs while the motor's reading stands still."""
        reading = values[MOTOR_MDEGC]
        if reading != self.moved_mdegC:
            self.moved_mdegC = reading
            self.still_periods = 0
        else:
            self.still_periods = min(LONGEST_PERIODS, self.still_periods + periods)
        values[MOTOR_STILL_S] = self.still_periods // PERIODS_PER_S
        second = self.run_periods // PERIODS_PER_S
        if not self.run_periods:
            self.start_mdegC = reading
        self.run_periods = min(LONGEST_PERIODS, self.run_periods + periods)
        # Thermometers are read once a second.
        if not second or self.run_periods // PERIODS_PER_S != second:
            self._place(values)

    def _place(self, values):
        """Judge whether the motor's reading goes where a working motor's must go.

        From where it was as the run began to `rise_mdegC` above the water that is pumped.
        """
        motor_mdegC, water_mdegC = values[MOTOR_MDEGC], values[WATER_MDEGC]
        if motor_mdegC == INVALID or water_mdegC == INVALID:
            values[MISSING_RISE_MDEGC] = INVALID
            return
        if self.start_mdegC == INVALID:
            self.start_mdegC = motor_mdegC
        begins_mdegC = self.start_mdegC - LAG_MDEGC
        way_mdegC = water_mdegC + self.rise_mdegC - begins_mdegC
        taus = WARMS_TAUS if way_mdegC > 0 else COOLS_TAUS
        whole_s = taus * self.tau_s
        permille = min(whole_s, self.run_periods // PERIODS_PER_S) * 1000 // whole_s
        values[MISSING_RISE_MDEGC] = begins_mdegC + way_mdegC * permille // 1000 - motor_mdegC


class Heat:
    """Thermal model of the motor: the first-order form of IEC 60255-149.

    H(n) = H(n-1) tau / (tau + dt) + (I / base)^2 dt / (tau + dt), once a second;
    1 000 000 = the heat that the base current makes in the end.  From memory.
    """

    FULL = 1000000
    MOST_SHARE = 15000    # I / base [permille] that the model follows: heat below 2**28

    def __init__(self, base_mA, tau_s):
        """Take the current that the motor stands for ever [mA] and the time constant [s]."""
        self.base_mA = base_mA
        self.tau_s = tau_s
        self.heat = 0
        self.sum_mA = 0
        self.periods = 0

    def pass_time(self, pump_mA, periods):
        """Take a scan's current [mA] and the periods that it stands for [-]."""
        if not pump_mA and not self.sum_mA and not self.heat:
            return
        self.periods += periods
        if pump_mA > 0:
            self.sum_mA += pump_mA * (periods if periods < PERIODS_PER_S else PERIODS_PER_S)
        while self.periods >= PERIODS_PER_S:
            self.periods -= PERIODS_PER_S
            # A late scan has no more to say than its one current.
            share = min(self.MOST_SHARE, self.sum_mA // PERIODS_PER_S * 1000 // self.base_mA)
            target = share * share
            self.heat += (target - self.heat) // (self.tau_s + 1)
            if self.periods < PERIODS_PER_S:
                self.sum_mA = 0


class Starts:
    """Starts of the pump; each runs out over an hour divided by the allowance."""

    ONE = 1000
    PERIODS_PER_MILLI_HOUR = 36  # 3600 s in periods of 0.1 s, by 1000

    def __init__(self, per_hour):
        """Take the starts that an hour allows [-]."""
        self.per_hour = per_hour
        self.full = (per_hour + 1) * self.ONE
        self.milli = 0
        self.counted = 0         # all since the start of the board
        self.waited = 0          # periods times `per_hour` that have not run out as a start yet

    def pass_time(self, periods):
        """Let `periods` [0.1 s] pass."""
        if not self.milli:
            return
        waited = self.waited + periods * self.per_hour
        if waited >= self.PERIODS_PER_MILLI_HOUR:
            gone = waited // self.PERIODS_PER_MILLI_HOUR
            waited -= gone * self.PERIODS_PER_MILLI_HOUR
            self.milli = max(0, self.milli - gone)
        self.waited = waited

    def count(self):
        """Take one start."""
        self.milli = min(self.full, self.milli + self.ONE)
        self.counted += 1
