"""What is fitted to the board of one rig and how it is calibrated: integers, declared once.

The host compiles the file, versioned and guarded by a CRC; without it the
keeper stays safe.  What protects and when is no business of this table: those are
the settings.
"""

from keeper.integers import R_NAME, checked, column, form_of, unpacked
from keeper.integers import problems as problems_of

VERSION = 3

# valve_kind: a motor with a lead for each direction, one that is reversed by a second
# switch, one that a spring shuts when its supply is let go.
NO_VALVE, SERVO, MOTOR, REVERSED, SPRING = range(5)
MOTORS = (MOTOR, REVERSED, SPRING)
NO_SENSOR, ONE_WIRE, THERMISTOR = 0, 1, 2     # motor_sensor, water_sensor

# name, lowest, highest, default.  The unit ends the name.  Highest
# values keep every product of a driver within 31 bits.
WIRING = (
    ("link_unit", 1, 247, 1),
    ("link_baud", 1200, 115200, 19200),
    ("contact_scans", 1, 10, 2),
    ("loop_supervised", 0, 1, 0),
    ("loop_short_permille", 10, 900, 150),
    ("loop_open_permille", 20, 950, 450),
    ("loop_cut_permille", 30, 990, 800),
    ("panel_monitor", 64, 79, 64),
    ("panel_shunt_uohm", -1000000, 1000000, 10000),
    ("pump_monitor", 64, 79, 65),
    ("pump_shunt_uohm", -1000000, 1000000, 16000),
    ("generator_monitor", 64, 79, 68),
    ("generator_shunt_uohm", -1000000, 1000000, 200000),
    ("lamp_monitor", 64, 79, 69),
    ("lamp_shunt_uohm", -1000000, 1000000, 200000),
    ("supply_monitor", 64, 79, 72),
    ("supply_shunt_uohm", -1000000, 1000000, 100000),
    ("meter_up", 0, 1, 1),
    ("meter_down", 0, 1, 1),
    ("motor_sensor", 0, 2, 1),
    ("water_sensor", 0, 1, 1),
    ("motor_serial_high", 0, 0xFFFFFF, 0),
    ("motor_serial_low", 0, 0xFFFFFF, 0),
    ("water_serial_high", 0, 0xFFFFFF, 0),
    ("water_serial_low", 0, 0xFFFFFF, 0),
    ("temperature_stale_s", 3, 600, 10),
    ("thermistor_ohm", 100, 1000000, 10000),
    ("thermistor_beta_K", 1000, 6000, 3950),
    ("thermistor_pull_ohm", 100, 1000000, 10000),
    ("rail_mV", 3000, 3600, 3300),
    ("level_sensor", 0, 1, 1),
    ("level_zero_mV", 0, 3000, 250),
    ("level_zero_mm", -1000, 5000, 0),
    ("level_span_mV", 100, 3600, 2000),
    ("level_span_mm", 100, 16000, 2000),
    ("level_low_fault_mV", 0, 3000, 150),
    ("level_high_fault_mV", 100, 3600, 2400),
    ("valve_kind", 0, 4, 1),
    ("valve_feedback", 0, 1, 0),
    ("valve_shut_mV", 0, 3600, 330),
    ("valve_open_mV", 0, 3600, 2970),
    ("servo_shut_us", 500, 2500, 1000),
    ("servo_open_us", 500, 2500, 2000),
)  # type: tuple
W_NAME, W_LOW, W_HIGH, W_DEFAULT = range(4)

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
# What is not there if 0.
FITTED = SHUNTS + ("meter_up", "meter_down", "motor_sensor", "water_sensor", "level_sensor",
                   "valve_feedback", "valve_kind")
NAMES = column(WIRING, R_NAME)
DEFAULTS = list(column(WIRING, W_DEFAULT))
FORM = form_of(b"fbyw", VERSION, WIRING, ORDERED)
FITTED_PLACES = tuple([NAMES.index(name) for name in FITTED])
SHUNT_PLACES = tuple([NAMES.index(name) for name in SHUNTS])
# The smallest shunt of use: 81.92 mV across it are 163 A.
SHUNT_LEAST_uohm = 500


def index(name):
    """Return the place [-] of an entry in the list of values; ValueError if there is none."""
    return NAMES.index(name)


def defaults():
    """Return the default values [list in table order]."""
    return list(DEFAULTS)


def problems(values):
    """Return one line for each value that cannot be; an empty list if all is well."""
    found = problems_of(WIRING, FORM, values)
    return found + _conflicts(values) if len(values) == len(WIRING) else found


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
    for place in SHUNT_PLACES:
        shunt = values[place]
        if 0 < abs(shunt) < SHUNT_LEAST_uohm:
            found.append("shunt of %d uohm: must be 0, or %d or more" % (shunt, SHUNT_LEAST_uohm))
        if shunt:
            addresses.append(values[place - 1])
    if len(set(addresses)) < len(addresses):
        found.append("two monitors have the same I2C address")
    return found


def pack(values):
    """Return wiring [integers in table order] as the bytes of its file; or ValueError."""
    return checked(FORM, values, problems(values))


def unpack(data):
    """Return the wiring [integers in table order] of a file.

    Raises ValueError, also if what it says cannot be fitted together.
    """
    values = unpacked(FORM, data)
    if _conflicts(values):
        raise ValueError("wiring that cannot be")
    return values


def load(path):
    """Return (wiring [list in table order], whether it is the rig's own) of a file.

    Without a whole file nobody knows what is there: nothing is, above all no valve: one pin
    drives a motor open, or supplies a servo.
    """
    try:
        with open(path, "rb") as file:
            return unpack(file.read()), True
    except (OSError, ValueError):
        values = defaults()
        for place in FITTED_PLACES:
            values[place] = 0
        return values, False
