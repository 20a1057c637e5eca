"""What is fitted to the board of one rig and how it is calibrated: integers, declared once.

The host compiles the file, versioned and guarded by a CRC; without a file the
defaults hold.  What protects and when is no business of this table: those are
the settings.
"""

import binascii
import struct

VERSION = 1
MAGIC = b"fbyw"
HEAD_BYTES = 8
CRC_BYTES = 4

NO_VALVE, SERVO, MOTOR = 0, 1, 2              # valve_kind
NO_SENSOR, ONE_WIRE, THERMISTOR = 0, 1, 2     # motor_sensor, water_sensor

# name, lowest, highest, default, meaning.  The unit ends the name.  Highest
# values keep every product of a driver within 31 bits.
WIRING = (
    ("link_unit", 1, 247, 1, "Modbus unit of the board on every line"),
    ("link_baud", 1200, 115200, 19200, "speed of the RS-485 line"),
    ("contact_scans", 1, 10, 2, "equal scans before a contact is believed"),
    ("loop_supervised", 0, 1, 0, "1 = 71HH-UP is read through its end-of-line resistors"),
    ("loop_short_permille", 10, 900, 150, "below this share of the rail the loop is shorted"),
    ("loop_open_permille", 20, 950, 450, "above it the contact is open"),
    ("loop_cut_permille", 30, 990, 800, "above it the loop is cut"),
    ("panel_monitor", 64, 79, 64, "I2C address of the monitor of the panel"),
    ("panel_shunt_uohm", -1000000, 1000000, 10000,
     "its shunt; 0 = none fitted, negative = current the other way round"),
    ("pump_monitor", 64, 79, 65, "I2C address of the monitor of the pump"),
    ("pump_shunt_uohm", -1000000, 1000000, 40000, "its shunt"),
    ("generator_monitor", 64, 79, 68, "I2C address of the monitor of the generator"),
    ("generator_shunt_uohm", -1000000, 1000000, 200000, "its shunt"),
    ("lamp_monitor", 64, 79, 69, "I2C address of the monitor of the lamps"),
    ("lamp_shunt_uohm", -1000000, 1000000, 200000, "its shunt"),
    ("supply_monitor", 64, 79, 72, "I2C address of the monitor of the board's supply"),
    ("supply_shunt_uohm", -1000000, 1000000, 100000, "its shunt"),
    ("motor_sensor", 0, 2, 1, "0 = none, 1 = on the 1-Wire line, 2 = thermistor on adc_valve"),
    ("water_sensor", 0, 1, 1, "0 = none, 1 = on the 1-Wire line"),
    ("motor_serial_high", 0, 0xFFFFFF, 0, "upper 24 bits of its 48-bit serial number"),
    ("motor_serial_low", 0, 0xFFFFFF, 0, "lower 24 bits; both 0 = the first one found"),
    ("water_serial_high", 0, 0xFFFFFF, 0, "upper 24 bits of its 48-bit serial number"),
    ("water_serial_low", 0, 0xFFFFFF, 0, "lower 24 bits; both 0 = the next one found"),
    ("temperature_stale_s", 3, 600, 10, "age at which a temperature is no longer believed"),
    ("thermistor_ohm", 100, 1000000, 10000, "resistance of the thermistor at 25 degC"),
    ("thermistor_beta_K", 1000, 6000, 3950, "its Beta"),
    ("thermistor_pull_ohm", 100, 1000000, 10000, "resistor from it to the rail"),
    ("rail_mV", 3000, 3600, 3300, "rail, the reference of the analogue inputs"),
    ("level_sensor", 0, 1, 1, "1 = a level sensor is on adc_level"),
    ("level_zero_mV", 0, 3000, 250, "input at the level level_zero_mm"),
    ("level_zero_mm", -1000, 5000, 0, "level at which the input is level_zero_mV"),
    ("level_span_mV", 100, 3600, 2000, "rise of the input over level_span_mm"),
    ("level_span_mm", 100, 16000, 2000, "rise of the level over level_span_mV"),
    ("level_low_fault_mV", 0, 3000, 150, "below this the sensor's wire is open"),
    ("level_high_fault_mV", 100, 3600, 2400, "above this its wire is shorted"),
    ("valve_kind", 0, 2, 1, "0 = none, 1 = servo, 2 = motor"),
    ("valve_feedback", 0, 1, 0, "1 = its position is on adc_valve"),
    ("valve_travel_ms", 500, 120000, 4000, "time from shut to open at full speed"),
    ("valve_shut_mV", 0, 3600, 330, "position input with the valve shut"),
    ("valve_open_mV", 0, 3600, 2970, "position input with the valve open"),
    ("valve_deadband_permille", 2, 100, 10, "how far off a motor valve may stand"),
    ("valve_overrun_permille", 0, 500, 200, "share of the travel that it is pressed on at an end"),
    ("servo_shut_us", 500, 2500, 1000, "pulse of the servo with the valve shut"),
    ("servo_open_us", 500, 2500, 2000, "pulse of the servo with the valve open"),
)
W_NAME, W_LOW, W_HIGH, W_DEFAULT, W_TEXT = range(5)
NAMES = tuple([row[W_NAME] for row in WIRING])

# Pairs of entries of which the first must lie below the second.
ORDERED = (
    ("loop_short_permille", "loop_open_permille"),
    ("loop_open_permille", "loop_cut_permille"),
    ("level_low_fault_mV", "level_high_fault_mV"),
)
# Least difference of the valve's two position readings: a guess, as below it
# noise of the input is a per cent of the travel.
POSITION_SPAN_LEAST_mV = 300
SHUNTS = ("panel_shunt_uohm", "pump_shunt_uohm", "generator_shunt_uohm", "lamp_shunt_uohm",
          "supply_shunt_uohm")
# The smallest shunt of use: 81.92 mV across it are 163 A.
SHUNT_LEAST_uohm = 500


def index(name):
    """Return the place [-] of an entry in the list of values; ValueError if there is none."""
    return NAMES.index(name)


def defaults():
    """Return the default values [list in table order]."""
    return [row[W_DEFAULT] for row in WIRING]


def problems(values):
    """Return one line for each value that cannot be; an empty list if all is well."""
    if len(values) != len(WIRING):
        return ["%d entries, expected %d" % (len(values), len(WIRING))]
    found = []
    for row, value in zip(WIRING, values):
        if not row[W_LOW] <= value <= row[W_HIGH]:
            found.append("%s = %d: must be %d to %d" % (row[W_NAME], value, row[W_LOW],
                                                        row[W_HIGH]))
    for lower, upper in ORDERED:
        if values[index(lower)] >= values[index(upper)]:
            found.append("%s must be below %s" % (lower, upper))
    return found + _conflicts(values)


def _conflicts(values):
    """Return what cannot be fitted together."""
    found = []
    if values[index("valve_feedback")] and values[index("motor_sensor")] == THERMISTOR:
        found.append("valve_feedback and a thermistor want the same input adc_valve")
    span_mV = values[index("valve_open_mV")] - values[index("valve_shut_mV")]
    if abs(span_mV) < POSITION_SPAN_LEAST_mV:
        found.append("valve_open_mV and valve_shut_mV must differ by %d"
                     % POSITION_SPAN_LEAST_mV)
    if values[index("servo_open_us")] == values[index("servo_shut_us")]:
        found.append("servo_open_us and servo_shut_us must differ")
    addresses = []
    for name in SHUNTS:
        shunt = values[index(name)]
        if 0 < abs(shunt) < SHUNT_LEAST_uohm:
            found.append("%s = %d: must be 0, or %d or more" % (name, shunt, SHUNT_LEAST_uohm))
        if shunt:
            addresses.append(values[index(name) - 1])
    if len(set(addresses)) < len(addresses):
        found.append("two monitors have the same I2C address")
    return found


def pack(values):
    """Return wiring [integers in table order] as the bytes of its file.

    Raises ValueError, with every problem in one line, if a value cannot be.
    """
    found = problems(values)
    if found:
        raise ValueError("; ".join(found))
    body = MAGIC + struct.pack("<HH", VERSION, len(values))
    for value in values:
        body += struct.pack("<i", value)
    return body + struct.pack("<I", binascii.crc32(body))


def unpack(data):
    """Return the wiring [integers in table order] of a file.

    Raises ValueError if the file is damaged, of another version or cannot be.
    """
    if len(data) < HEAD_BYTES + CRC_BYTES or data[:4] != MAGIC:
        raise ValueError("not a wiring file")
    if struct.unpack("<I", data[-CRC_BYTES:])[0] != binascii.crc32(data[:-CRC_BYTES]):
        raise ValueError("wiring file damaged: the CRC does not fit")
    version, count = struct.unpack("<HH", data[4:HEAD_BYTES])
    if version != VERSION or len(data) != HEAD_BYTES + 4 * count + CRC_BYTES:
        raise ValueError("wiring of version %d, expected %d" % (version, VERSION))
    end = HEAD_BYTES + 4 * count
    values = [struct.unpack("<i", data[at:at + 4])[0] for at in range(HEAD_BYTES, end, 4)]
    found = problems(values)
    if found:
        raise ValueError("; ".join(found))
    return values


def load(path):
    """Return (wiring [list in table order], whether it can be trusted) of a file.

    No file: the defaults, trusted.  A file that cannot be read: the defaults,
    not trusted.
    """
    try:
        with open(path, "rb") as file:
            data = file.read()
    except OSError:
        return defaults(), True
    try:
        return unpack(data), True
    except ValueError:
        return defaults(), False
