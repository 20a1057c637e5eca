# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""A whole board on the fake chip, with a rig's sensors around it that all work.

Read by both interpreters: it imports nothing of CPython's.
"""

from devices import MonitorRegisters
from machine import CHIP
from onewire import Thermometer

from keeper.boards import wiring as wr
from keeper.boards.base import Board
from keeper.boards.kinds import PICO
from keeper.boards.pins import gpio
from keeper.channels import CONTACTS, OUTPUTS
from keeper.clock import PERIOD_MS
from keeper.protection.derived import VALUES

MOTOR_SERIAL, WATER_SERIAL = 0x0000A1B2C3D4, 0x0000A1B2C3D5
FULL = 65535


def wiring_with(changes=()):
    """Returns the default wiring with the two thermometers named; changes: pairs."""
    values = wr.defaults()
    serials = (
        ("motor_serial_low", MOTOR_SERIAL & 0xFFFFFF),
        ("motor_serial_high", MOTOR_SERIAL >> 24),
        ("water_serial_low", WATER_SERIAL & 0xFFFFFF),
        ("water_serial_high", WATER_SERIAL >> 24),
    )
    for name, value in serials + tuple(changes):
        values[wr.index(name)] = value
    return values


def analog(millivolts, rail_mV=3300):
    """Returns the reading of an input [16 bits] at a voltage."""
    return (millivolts * FULL + rail_mV // 2) // rail_mV


class Rig:
    """A board and what hangs on it.  Attributes: board, values, outputs, monitors by name."""

    def __init__(self, changes=()):
        self.wiring = wiring_with(changes)
        self.monitors = {}
        for name in ("panel", "pump", "generator", "lamp", "supply"):
            device = MonitorRegisters()
            CHIP.i2c_devices[self.wiring[wr.index(name + "_monitor")]] = device
            self.monitors[name] = device
        self.motor = Thermometer(MOTOR_SERIAL, 40 * 16)
        self.water = Thermometer(WATER_SERIAL, 12 * 16)
        CHIP.one_wire = [self.motor, self.water]
        CHIP.analog[gpio("adc_level")] = analog(1250)
        CHIP.analog[gpio("adc_valve")] = analog(330)
        CHIP.analog[gpio("adc_loop")] = analog(1056)
        for name in CONTACTS:
            CHIP.lines[gpio(name)].outside = 1 if name == "button" else 0
        self.board = Board(PICO, self.wiring, CHIP.clock)
        self.values = [0] * VALUES
        self.outputs = [0] * len(OUTPUTS)

    def scan(self, count=1, slack=20):
        """Scans with slack work between, 100 ms each."""
        for _ in range(count):
            self.board.read(self.values)
            self.board.write(self.outputs)
            self.work(slack)
            CHIP.clock.advance_ms(PERIOD_MS)
        return self.values

    def work(self, slack=20):
        """Does the slack work of a period."""
        for _ in range(slack):
            self.board.slack(CHIP.clock.ticks_ms())

    def pulses(self, name, count):
        """Lets a meter give pulses; its state machine sees each."""
        number = PICO.meter_machines[0 if name == "flow_up" else 1]
        line = CHIP.lines[gpio(name)]
        for _ in range(count):
            for level in (0, 1):
                line.outside = level
                CHIP.machines[number].run(10)
