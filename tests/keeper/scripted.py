"""A keeper on scripted inputs. Read by both interpreters: this file imports nothing of Python's.

The settings are plain numbers, close to a small garden rig, with short waits.
"""

from keeper import settings as st
from keeper.channels import (
    ALL_FITTED,
    BUTTON,
    C_71H_LO,
    C_71H_UP,
    C_71HH_UP,
    C_71L_LO,
    C_71L_UP,
    C_STOP,
    GENERATOR_MA,
    GENERATOR_MV,
    LAMP_MA,
    LEVEL_MM,
    LOOP_71HH,
    MOTOR_MDEGC,
    OUT_DUMP,
    OUT_LAMPS_OFF,
    OUT_PUMP,
    OUT_VALVE,
    OUTPUTS,
    PANEL_MA,
    PANEL_MV,
    PULSES_DOWN,
    PULSES_UP,
    PUMP_MA,
    READ,
    SUPPLY_MA,
    SUPPLY_MV,
    VALVE_PERMILLE,
    WATER_MDEGC,
)
from keeper.modes import CLOSING, DRAINING, MAINTENANCE, PUMPING, TRIAL
from keeper.scan import Scan

PERIOD_MS = 100
TICKS_MASK = 0x3FFFFFFF

# 1 mL a pulse: five pulses in every scan are 50 mL/s.  A tank of 1 m2.
NUMBERS = (
    ("rig_id", 12345),
    ("pulse_up_nL", 1000000),
    ("pulse_down_nL", 1000000),
    ("full_delay_ms", 300),
    ("over_full_delay_ms", 400),
    ("upper_empty_delay_ms", 500),
    ("lower_empty_delay_ms", 600),
    ("motor_trip_mdegC", 55000),
    ("motor_reset_mdegC", 45000),
    ("motor_delay_ms", 1000),
    ("generator_trip_mV", 13800),
    ("generator_reset_mV", 12800),
    ("generator_delay_ms", 100),
    ("overspeed_mV", 20000),
    ("generator_mohm", 10000),
    ("fitted", ALL_FITTED),
    ("level_full_mm", 960),
    ("level_high_mm", 975),
    ("level_empty_mm", 50),
    ("level_low_mm", 35),
    ("volume_1_mL", 56875),
    ("volume_2_mL", 113750),
    ("volume_3_mL", 170625),
    ("volume_4_mL", 227500),
    ("volume_5_mL", 284375),
    ("volume_6_mL", 341250),
    ("volume_7_mL", 398125),
    ("volume_8_mL", 455000),
    ("volume_9_mL", 511875),
    ("volume_10_mL", 568750),
    ("volume_11_mL", 625625),
    ("volume_12_mL", 682500),
    ("volume_13_mL", 739375),
    ("volume_14_mL", 796250),
    ("volume_15_mL", 853125),
    ("volume_16_mL", 910000),
    ("level_reserve_mm", 10),
    ("lower_full_delay_ms", 700),
    ("thermal_base_mA", 2000),
    ("thermal_tau_s", 60),
    ("motor_rise_mdegC", -50000),
    ("still_tau_s", 600),
    ("working_most_mdegC", 40000),
    ("heating_mdegC", 3000),
    ("warmth_noise_mdegC", 300),
    ("hot_water_mdegC", 26000),
    ("hot_air_mdegC", 50000),
    ("dry_base_mA", 100),
    ("dry_gain_uA_V2", 200),
    ("pump_judge_mV", 12000),
    ("lead_mA", 50),
    ("dry_delay_ms", 2000),
    ("stall_mohm", 6000),
    ("stall_least_mA", 240),
    ("flow_sure_mW", 400000),
    ("seen_flow_uL_s", 10000),
    ("trickle_mW", 2000),
    ("useful_sure_mW", 400000),
    ("no_flow_delay_ms", 3000),
    ("prime_ms", 3000),
    ("fill_least_mV", 20000),
    ("fill_most_s", 3600),
    ("fill_look_min", 7200),
    ("float_fall_s", 10000),
    ("welded_mA", 100),
    ("starts_per_hour", 120),
    ("starts_most_milli", 119500),
    ("starts_again_milli", 119000),
    ("valve_gap_permille", 55),
    ("valve_travel_ms", 6000),
    ("valve_open_permille", 60),
    ("valve_sure_permille", 1001),
    ("wheel_turns_permille", 1001),
    ("no_volts_delay_ms", 3000),
    ("shut_dark_ms", 30000),
    ("shut_flow_uL_s", 10000),
    ("leak_mm", 20),
    ("volume_gap_mm", 1000),
    ("lamp_sure_mV", 9900),
    ("lamp_gap_mA", 20),
    ("clamp_free_mV", 14500),
    ("generator_most_mW", 1600),
    ("supply_low_mV", 11500),
    ("supply_good_mV", 12000),
    ("supply_delay_ms", 1000),
    ("freeze_mdegC", 1500),
    ("cold_mdegC", 4000),
    ("cold_reset_mdegC", 5000),
    ("trip_retries", 2),
    ("trip_wait_s", 10),
    ("trip_window_s", 600),
    ("start_panel_mV", 26000),
    ("start_wait_s", 2),
    ("trial_s", 4),
    ("useful_flow_uL_s", 25000),
    ("holdoff_s", 5),
    ("holdoff_longest_s", 15),
    ("pump_least_on_s", 10),
    ("pump_least_off_s", 3),
    ("light_least_off_s", 3),
    ("light_rest_longest_s", 96),
    ("dark_panel_mV", 3000),
    ("dark_s", 5),
    ("setpoint_mW", 600),
    ("useful_mW", 300),
    ("step_1_mW", 300),
    ("step_2_mW", 600),
    ("step_3_mW", 1000),
    ("step_4_mW", 0),
    ("step_5_mW", 0),
    ("step_6_mW", 0),
    ("step_7_mW", 0),
    ("step_8_mW", 0),
    ("light_press_min", 2),
    ("at_dusk", 1),
    ("until_dawn", 1),
    ("clock_on_min", -1),
    ("clock_off_min", -1),
    ("longest_night_min", 900),
    ("night_full_mW", 1000),
    ("specific_1_mJ_L", 5277),
    ("specific_2_mJ_L", 9344),
    ("specific_3_mJ_L", 12785),
    ("specific_4_mJ_L", 15835),
    ("specific_5_mJ_L", 18613),
    ("specific_6_mJ_L", 21191),
    ("specific_7_mJ_L", 23612),
    ("specific_8_mJ_L", 25907),
    ("full_sure_mL", 900000),
    ("spare_mL", 40000),
    ("output_permille", 140),
    ("flow_permille", 40),
    ("lift_most_uL_s", 100000),
    ("lit_mW", 10),
    ("valve_rate_permille_s", 250),
    ("valve_shut_permille", 15),
    ("valve_zero_permille", 0),
    ("valve_run_ms", 4000),
    ("valve_pulse_ms", 20),
    ("valve_rest_ms", 200),
    ("valve_backlash_permille", 4),
    ("valve_press_ms", 800),
    ("settle_ms", 1000),
    ("slope_0_centi", 3000),
    ("slope_1_centi", 3000),
    ("slope_2_centi", 3000),
    ("slope_3_centi", 1960),
    ("slope_4_centi", 720),
    ("slope_5_centi", 350),
    ("slope_6_centi", 150),
    ("slope_7_centi", 60),
    ("slope_8_centi", 20),
    ("travel_1_permille", 380),
    ("travel_2_permille", 430),
    ("travel_3_permille", 460),
    ("travel_4_permille", 490),
    ("travel_5_permille", 520),
    ("travel_6_permille", 550),
    ("travel_7_permille", 570),
    ("travel_8_permille", 600),
    ("row_running_s", 10),
    ("row_standstill_s", 60),
    ("tail_sync_s", 60),
)

# What a healthy rig reads at standstill by day, too dull for the pump.
HEALTHY = (
    (PANEL_MV, 10000),
    (PANEL_MA, 0),
    (GENERATOR_MV, 0),
    (GENERATOR_MA, 0),
    (LAMP_MA, 0),
    (SUPPLY_MV, 12800),
    (SUPPLY_MA, 100),
    (LEVEL_MM, 400),
    (MOTOR_MDEGC, 20000),
    (WATER_MDEGC, 12000),
    (VALVE_PERMILLE, 0),
    (C_71H_UP, 1),
    (C_71HH_UP, 1),
    (C_71L_UP, 1),
    (C_71L_LO, 1),
    (BUTTON, 0),
    (C_71H_LO, 1),
    (C_STOP, 1),
    (LOOP_71HH, 0),
    (PULSES_UP, 0),
    (PULSES_DOWN, 0),
)


def settings_with(changes=()):
    """Returns the settings in table order; changes: pairs of name and value."""
    values = [0] * len(st.SETTINGS)
    for name, value in NUMBERS:
        values[st.index(name)] = value
    for name, value in changes:
        values[st.index(name)] = value
    return values


MOTOR_MA = 600        # what the pump draws while it is on, and the panel gives some voltage
MOTOR_LEAST_MV = 5000


class ScriptedBoard:
    """Reads what the list `inputs` holds; keeps what it was told.

    While `valve_follows`, the valve stands where it was last told to stand;
    while `motor_follows`, the pump draws current when it is on.
    """

    def __init__(self):
        self.inputs = [0] * READ
        for place, value in HEALTHY:
            self.inputs[place] = value
        self.outputs = [0] * len(OUTPUTS)
        self.valve_follows = True
        self.motor_follows = True

    def read(self, values):
        """Fills the values of a scan."""
        inputs = self.inputs
        if self.valve_follows:
            inputs[VALVE_PERMILLE] = self.outputs[OUT_VALVE]
        if self.motor_follows:
            on = self.outputs[OUT_PUMP] and inputs[PANEL_MV] >= MOTOR_LEAST_MV
            inputs[PUMP_MA] = MOTOR_MA if on else 0
        for place in range(READ):
            values[place] = inputs[place]

    def write(self, outputs):
        """Takes the outputs of a scan."""
        for place in range(len(OUTPUTS)):
            self.outputs[place] = outputs[place]

    def safe(self):
        """Drives every output safe."""
        for place in range(len(OUTPUTS)):
            self.outputs[place] = 0


class Bench:
    """A scan on a scripted board, with its events and the clock."""

    def __init__(self, changes=(), board=None):
        self.settings = settings_with(changes)
        self.board = board or ScriptedBoard()
        self.scan = Scan(self.settings, self.board)
        self.now_ms = 0
        self.events = []  # code, argument, argument 2, state, uptime

    @property
    def state(self):
        """Number of the state of operation."""
        return self.scan.sequence.state

    @property
    def inputs(self):
        """The list that the board reads from."""
        return self.board.inputs

    def set(self, changes):
        """Changes inputs: pairs of place and value."""
        for place, value in changes:
            if place == VALVE_PERMILLE:
                self.board.valve_follows = False
            elif place == PUMP_MA:
                self.board.motor_follows = False
            self.inputs[place] = value

    def run(self, scans=1, changes=()):
        """Scans, with some inputs changed before; keeps the events."""
        self.set(changes)
        for _ in range(scans):
            self.step()
            self.drain()

    def step(self, passed_ms=PERIOD_MS):
        """One scan; the events stay in the queue."""
        # The plain sum could reach 2**30, which is no small int on the board.
        self.now_ms = (self.now_ms - TICKS_MASK + passed_ms - 1) & TICKS_MASK
        self.scan.run(self.now_ms)

    def drain(self):
        """Takes the events out of the queue."""
        queue = self.scan.events
        while queue.count:
            self.events.append(tuple(queue.oldest()[:5]))
            queue.drop()

    def unsafe(self):
        """Says what must never be at the end of a scan, None if all is well."""
        pump = self.board.outputs[OUT_PUMP]
        valve = self.board.outputs[OUT_VALVE]
        if pump not in (0, 1) or not 0 <= valve <= 1000:
            return "an output out of range"
        if pump and self.state != TRIAL and self.state != PUMPING:  # a tuple would need memory
            return "pump on in a state that has it off"
        if pump and valve:
            return "pump on and valve told to open"
        drains = self.state == DRAINING
        lamps_off = self.board.outputs[OUT_LAMPS_OFF]
        may_be_open = drains or self.state == CLOSING or self.state == MAINTENANCE
        if drains and not lamps_off or lamps_off and not may_be_open:
            return "lamps off while nothing drains, or on while it does"
        if lamps_off and not self.board.outputs[OUT_DUMP]:
            return "a full jet without the dump load"
        return None
