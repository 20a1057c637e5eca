"""One board from its pins, its wiring and the drivers; the keeper's only way outside.

Contract: `read(values)` and `write(outputs)` allocate nothing; together they
block for about 3 ms, and once for a time-out of the I2C bus.  `safe()` may be
called at any time, in any state.  `slack(now_ms)` does at most one slow piece,
the longest about 7 ms (a search for an unknown thermometer apart).
"""

from machine import Pin

from keeper.boards import check, parts
from keeper.boards.kinds import NO_LIGHT, RESERVED
from keeper.boards.lamp import Lamp
from keeper.boards.pins import PINS, gpio
from keeper.boards.wiring import index as at
from keeper.channels import (
    C_71H_UP, C_71HH_UP, CONTACTS, INVALID, LEVEL_MM, LOOP_71HH, LOOP_HEALTHY, MOTOR_MDEGC,
    NO_ANSWER, OUT_DRIVE, OUT_DUMP, OUT_LAMPS_OFF, OUT_PUMP, OUT_VALVE, PULSES_DOWN, PULSES_UP,
    VALVE_PERMILLE, WATER_MDEGC)
from keeper.drivers.contacts import Contacts
from keeper.drivers.scratch import NONE, Word
from keeper.drivers.switches import Switch

# Place of the word that keeps the valve's position over a reset; the loader has place 0.
VALVE_WORD = 1
# What a rig without its own sensor reads there.
ABSENT = INVALID + NO_ANSWER


class Board:
    """A board of one rig.

    Attributes: faults, readings that drivers gave up [-]; lamp, its own light,
    None without one.
    """

    def __init__(self, kind, wiring, clock, is_bare=False):
        """Make everything, outputs first and off.

        kind: the `keeper.boards.kinds.Kind` of the board; wiring:
        list in the order of `keeper.boards.wiring`; clock: `time`, or what has
        its ticks_ms, ticks_us, ticks_diff and sleep_us; is_bare: only what a
        `keeper.boards.bare.Bare` takes over.

        Raises ValueError if the pins cannot be what they should.
        """
        self._make_outputs(kind, clock)
        if is_bare:
            self.valve = parts.maybe_valve(kind, wiring, self._valve_began())
            return
        found = check.problems(PINS, RESERVED)
        if found:
            raise ValueError("; ".join(found))
        self.valve = parts.valve(kind, wiring, self._valve_began())
        self.contacts = Contacts([gpio(name) for name in CONTACTS], wiring[at("contact_scans")])
        self.loop = parts.maybe_loop(wiring)
        self.level = parts.maybe_level(wiring)
        self.monitors = parts.monitors(wiring, clock)
        self.meter_up, self.meter_down = parts.meters(kind, wiring)
        self.thermistor = parts.maybe_thermistor(wiring)
        self.thermometers = parts.thermometers(wiring)
        self.motor_place, self.water_place = parts.thermometer_places(wiring)

    def _make_outputs(self, kind, clock):
        """Make what hangs on no wiring, switches first and off."""
        self.pump = Switch(gpio("pump_switch"))
        self.lamps_off = Switch(gpio("lamps_off"))
        self.dump = Switch(gpio("dump_switch"))
        self.line_enable = Pin(gpio("uart_de"), Pin.OUT, value=0)
        self.lamp = None
        if kind.light_gpio != NO_LIGHT:
            self.lamp = Lamp(Pin(kind.light_gpio, Pin.OUT))
        self.clock = clock
        self.valve_word = Word(VALVE_WORD)
        parts.clear_machines(kind)

    def _valve_began(self):
        """Return where to believe a servo that cannot say where it stands [permille].

        After power came that is shut, where a rig at rest has it.
        """
        saved = self.valve_word.get()
        return saved if 0 <= saved <= parts.PERMILLE and saved != NONE else 0

    def read(self, values):
        """Fill the values before `READ`, but for the two flows; allocates nothing."""
        now_ms = self.clock.ticks_ms()
        self.contacts.read(values, C_71H_UP)
        values[LOOP_71HH] = LOOP_HEALTHY
        if self.loop is not None:
            self.loop.read()
            values[C_71HH_UP] = self.loop.contact
            values[LOOP_71HH] = self.loop.state
        values[PULSES_UP] = self.meter_up.read()
        values[PULSES_DOWN] = self.meter_down.read()
        self.monitors.read(values)
        values[LEVEL_MM] = ABSENT if self.level is None else self.level.read()
        self._temperatures(values, now_ms)
        values[VALVE_PERMILLE] = self.valve.read()

    def _temperatures(self, values, now_ms):
        thermometers = self.thermometers
        motor = water = ABSENT
        if self.thermistor is not None:
            motor = self.thermistor.read()
        elif self.motor_place >= 0:
            motor = thermometers.read(self.motor_place, now_ms)
        if self.water_place >= 0:
            water = thermometers.read(self.water_place, now_ms)
        values[MOTOR_MDEGC] = motor
        values[WATER_MDEGC] = water

    def write(self, outputs):
        """Drive what `keeper.channels.OUTPUTS` names; allocates nothing."""
        # As `Switch.drive`, without three calls in each scan.
        self.pump.pin(1 if outputs[OUT_PUMP] == 1 else 0)
        self.lamps_off.pin(1 if outputs[OUT_LAMPS_OFF] == 1 else 0)
        self.dump.pin(1 if outputs[OUT_DUMP] == 1 else 0)
        self.valve.drive(outputs[OUT_VALVE], outputs[OUT_DRIVE])
        stands = self.valve.stands()
        if stands != INVALID:
            self.valve_word.put(stands)

    def safe(self):
        """Switch everything off and stop the valve where it stands.

        Each output by itself: one that fails keeps no other from being safe.
        Raises what the last of the failing ones raised.
        """
        failed = None
        for switch in (self.pump, self.dump, self.lamps_off):
            try:
                switch.drive(0)
            except Exception as error:  # noqa: BLE001 - the others come first
                failed = error
        for step in (self.valve.safe, self._leave_line, self._darken):
            try:
                step()
            except Exception as error:  # noqa: BLE001 - the others come first
                failed = error
        if failed is not None:
            raise failed

    def _leave_line(self):
        self.line_enable.value(0)

    def _darken(self):
        if self.lamp is not None:
            self.lamp.off()

    def blink(self):
        """Take one period of the light's blinking; allocates nothing."""
        if self.lamp is not None:
            self.lamp.step()

    def is_moving(self):
        """Return whether something moves on while nobody scans: a stall would carry it too far."""
        return self.valve.is_moving()

    def slack(self, now_ms):
        """Do at most one slow piece at `now_ms` [ticks]; return whether there was one."""
        return (self.monitors.step() or self.meter_up.step() or self.meter_down.step()
                or self.thermometers.step(now_ms))

    @property
    def faults(self):
        """Readings that drivers gave up since the start [-]."""
        return (self.monitors.faults + self.thermometers.faults + self.meter_up.faults
                + self.meter_down.faults)
