"""Makes the drivers that the wiring of a rig asks for.

Contract: what only some rigs have is imported in the function that makes it; the program
of a rig without it leaves that module out (`forebay.flash.firmware.PARTS`).
"""

import rp2
from machine import UART, Pin

from keeper.boards import check
from keeper.boards import wiring as wr
from keeper.boards.pins import gpio
from keeper.boards.wiring import index as at
from keeper.channels import INVALID, MONITORS, NO_ANSWER
from keeper.drivers import valve as valves
from keeper.drivers.pulse import Pulse
from keeper.drivers.streams import SerialStream

PERMILLE = 1000
MACHINES_A_BLOCK = 4     # RP2040 data sheet, 3.1
# Shunt and address in the wiring of each of MONITORS.
MONITORED = (
    (at("panel_shunt_uohm"), at("panel_monitor")),
    (at("pump_shunt_uohm"), at("pump_monitor")),
    (at("generator_shunt_uohm"), at("generator_monitor")),
    (at("lamp_shunt_uohm"), at("lamp_monitor")),
    (at("supply_shunt_uohm"), at("supply_monitor")),
)
# Kind and the halves of the serial number of each thermometer, motor before water.
THERMOMETERS = (
    (at("motor_sensor"), at("motor_serial_high"), at("motor_serial_low")),
    (at("water_sensor"), at("water_serial_high"), at("water_serial_low")),
)


class NoPart:
    """A meter or a bus that is not there, or that could not be set up.

    Attribute: faults, readings that it gave up [-].
    """

    def __init__(self, reads=0, faults=0):
        """Take what it reads, and its faults [-]."""
        self.reads = reads
        self.faults = faults

    def read(self, values=None, now_ms=0):
        """Return what it always reads; of a list of values nothing is its own."""
        return self.reads

    def step(self, now_ms=0):
        """Return False: there is nothing to do."""
        return False


def monitors(wiring, clock):
    """Return the monitors that have a shunt, on their bus."""
    fitted = 0
    for (shunt, _), row in zip(MONITORED, MONITORS):
        if wiring[shunt]:
            fitted |= 1 << row[0]
    if not fitted:
        return NoPart()
    from keeper.drivers.i2c_bus import Bus
    from keeper.instruments.monitors import Monitor, Monitors, arranged
    sda, scl = gpio("i2c_sda"), gpio("i2c_scl")
    bus = Bus(check.i2c_number(sda, scl), sda, scl, clock)
    found = []
    for row, mA_place, mV_place, is_quick in arranged(fitted):
        shunt, address = MONITORED[row]
        found.append(Monitor(bus, wiring[address], wiring[shunt], mA_place, mV_place, is_quick))
    return Monitors(bus, found, clock)


def clear_machines(kind):
    """Take the programs of an earlier start out of the block of our state machines."""
    rp2.PIO(kind.valve_machines[0] // MACHINES_A_BLOCK).remove_program()


def meters(kind, wiring):
    """Return the meters up and down, as `read()` and `step()`."""
    up, down = kind.meter_machines
    return (_meter(wiring[at("meter_up")], up, "flow_up"),
            _meter(wiring[at("meter_down")], down, "flow_down"))


def _meter(is_fitted, number, name):
    if not is_fitted:
        return NoPart()
    from keeper.drivers.pulses import PulseMeter
    try:
        return PulseMeter(number, gpio(name))
    except (OSError, ValueError):  # no room, or the machine is somebody else's
        return NoPart(INVALID + NO_ANSWER, 1)


def thermometers(wiring):
    """Return the thermometers on the 1-Wire line, motor before water."""
    found = []
    for kind, high, low in THERMOMETERS:
        if wiring[kind] == wr.ONE_WIRE:
            found.append((wiring[high], wiring[low]))
    if not found:
        return NoPart()
    import onewire
    from keeper.instruments.thermometers import Thermometers, rom_code
    line = onewire.OneWire(Pin(gpio("one_wire")))
    roms = [rom_code(high, low, line.crc8) for high, low in found]
    return Thermometers(line, roms, wiring[at("temperature_stale_s")])


def thermometer_places(wiring):
    """Return the places of motor and water among the thermometers, -1 = not there."""
    motor = 0 if wiring[at("motor_sensor")] == wr.ONE_WIRE else -1
    water = motor + 1 if wiring[at("water_sensor")] == wr.ONE_WIRE else -1
    return motor, water


def maybe_thermistor(wiring):
    """Return the motor's thermistor, None if it has none."""
    if wiring[at("motor_sensor")] != wr.THERMISTOR:
        return None
    from keeper.drivers.analog import AnalogInput
    from keeper.drivers.thermistor import Thermistor
    return Thermistor(AnalogInput(gpio("adc_valve")), wiring[at("thermistor_ohm")],
                      wiring[at("thermistor_beta_K")], wiring[at("thermistor_pull_ohm")])


def maybe_level(wiring):
    """Return the level sensor, None if there is none."""
    if not wiring[at("level_sensor")]:
        return None
    from keeper.drivers.analog import AnalogInput, LinearSensor, steps
    rail_mV = wiring[at("rail_mV")]
    return LinearSensor(
        AnalogInput(gpio("adc_level")),
        steps(wiring[at("level_low_fault_mV")], rail_mV),
        steps(wiring[at("level_high_fault_mV")], rail_mV),
        steps(wiring[at("level_zero_mV")], rail_mV),
        steps(wiring[at("level_span_mV")], rail_mV),
        wiring[at("level_zero_mm")], wiring[at("level_span_mm")])


def maybe_loop(wiring):
    """Return the supervised over-full loop, None if it is a plain contact."""
    if not wiring[at("loop_supervised")]:
        return None
    from keeper.drivers.analog import AnalogInput
    from keeper.drivers.supervised import SupervisedLoop
    return SupervisedLoop(
        AnalogInput(gpio("adc_loop")), wiring[at("loop_short_permille")],
        wiring[at("loop_open_permille")], wiring[at("loop_cut_permille")],
        wiring[at("contact_scans")])


def valve(kind, wiring, start_permille):
    """Return the valve that is fitted to a board of a kind.

    start_permille: where a servo is believed to stand, so that it does not jump.
    """
    fitted = wiring[at("valve_kind")]
    if fitted == wr.NO_VALVE:
        return valves.NoValve()
    sensor = _maybe_position(wiring)
    if fitted == wr.SERVO:
        if sensor is not None:
            measured = sensor.read()
            if 0 <= measured <= PERMILLE:
                start_permille = measured
        # The pin that opens a motor valve switches the servo's supply.
        return valves.Servo(gpio("valve_pwm"), gpio("valve_open"), wiring[at("servo_shut_us")],
                            wiring[at("servo_open_us")], start_permille, sensor)
    opens = Pulse(kind.valve_machines[0], gpio("valve_open"))
    if fitted == wr.REVERSED:
        return valves.ReversedValve(opens, gpio("valve_close"), sensor)
    shuts = Pulse(kind.valve_machines[1], gpio("valve_close"))
    if fitted == wr.SPRING:
        # What a servo's pulse is for holds the supply against the spring.
        return valves.SpringValve(opens, shuts, gpio("valve_pwm"), sensor)
    return valves.MotorValve(opens, shuts, sensor)


def maybe_valve(kind, wiring, start_permille):
    """Return the valve, one that does nothing if it cannot be made."""
    try:
        return valve(kind, wiring, start_permille)
    except Exception:  # noqa: BLE001 - why this start is bare is kept already
        return valves.NoValve()


def _maybe_position(wiring):
    """Return the position sensor, None if there is none.

    Half way from an end of the travel to the end of the rail its wire is broken.
    """
    if not wiring[at("valve_feedback")]:
        return None
    from keeper.drivers.analog import FULL, AnalogInput, LinearSensor, steps
    rail_mV = wiring[at("rail_mV")]
    shut = steps(wiring[at("valve_shut_mV")], rail_mV)
    opened = steps(wiring[at("valve_open_mV")], rail_mV)
    return LinearSensor(AnalogInput(gpio("adc_valve")), min(shut, opened) // 2,
                        (max(shut, opened) + FULL) // 2, shut, opened - shut, 0, PERMILLE)


def serial_stream(wiring, enable):
    """Return the RS-485 line as a stream; enable: pin of its driver, low."""
    tx, rx = gpio("uart_tx"), gpio("uart_rx")
    baud = wiring[at("link_baud")]
    uart = UART(check.uart_number(tx, rx), baudrate=baud, tx=Pin(tx), rx=Pin(rx),
                rxbuf=SerialStream.BUFFER_BYTES, txbuf=SerialStream.BUFFER_BYTES)
    return SerialStream(uart, enable, baud)
