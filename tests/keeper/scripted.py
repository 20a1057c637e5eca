"""A keeper on scripted inputs. Read by both interpreters: this file imports nothing of Python's.

The settings are plain numbers, close to a small garden rig, with short waits.
"""

from keeper import settings as st
from keeper.channels import (
    BUTTON,
    C_71H_UP,
    C_71HH_UP,
    C_71L_LO,
    C_71L_UP,
    GENERATOR_MA,
    GENERATOR_MV,
    LAMP_MA,
    LEVEL_MM,
    MOTOR_MDEGC,
    OUT_PUMP,
    OUT_VALVE,
    PANEL_MA,
    PANEL_MV,
    PULSES_DOWN,
    PULSES_UP,
    PUMP_MA,
    SUPPLY_MA,
    SUPPLY_MV,
    VALUES,
    VALVE_PERMILLE,
    WATER_MDEGC,
)
from keeper.modes import PUMPING, TRIAL
from keeper.scan import Scan

PERIOD_MS = 100
TICKS_MASK = 0x3FFFFFFF

# 1 mL a pulse: five pulses in every scan are 50 mL/s.
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
    ("dark_panel_mV", 3000),
    ("dark_s", 5),
    ("setpoint_mW", 600),
    ("lit_mW", 10),
    ("valve_rate_permille_s", 250),
    ("valve_first_permille", 50),
    ("valve_shut_permille", 15),
    ("governor_gain_upermille_mW", 300000),
    ("governor_reset_ms", 1000),
    ("curve_1_permille", 300),
    ("curve_2_permille", 450),
    ("curve_3_permille", 550),
    ("curve_4_permille", 640),
    ("curve_5_permille", 720),
    ("curve_6_permille", 800),
    ("curve_7_permille", 900),
    ("row_running_s", 10),
    ("row_standstill_s", 60),
    ("tail_sync_s", 60),
)

# What a healthy rig reads at standstill by day, too dull for the pump.
HEALTHY = (
    (PANEL_MV, 10000),
    (PANEL_MA, 0),
    (PUMP_MA, 0),
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


class ScriptedBoard:
    """Reads what the list `inputs` holds; keeps what it was told.

    While `valve_follows`, the valve stands where it was last told to stand.
    """

    def __init__(self):
        self.inputs = [0] * VALUES
        for place, value in HEALTHY:
            self.inputs[place] = value
        self.outputs = [0, 0]
        self.valve_follows = True

    def read(self, values):
        """Fills the values of a scan."""
        if self.valve_follows:
            self.inputs[VALVE_PERMILLE] = self.outputs[OUT_VALVE]
        for place in range(VALUES):
            values[place] = self.inputs[place]

    def write(self, outputs):
        """Takes the outputs of a scan."""
        self.outputs[OUT_PUMP] = outputs[OUT_PUMP]
        self.outputs[OUT_VALVE] = outputs[OUT_VALVE]


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
        return None
