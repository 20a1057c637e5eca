"""The settings of a rig: integers, declared once, versioned and guarded by a CRC.

The host compiles them from the rig's description; the board refuses a file
that is damaged, of another version or out of range, and stays safe.
"""

import binascii
import struct

VERSION = 1
MAGIC = b"fbys"

# name, lowest, highest, meaning.  The unit ends the name.
SETTINGS = (
    ("rig_id", 1, 0x3FFFFFFF, "identity of the rig, from its name"),
    ("pulse_up_nL", 1000, 500000000, "volume of one pulse of the flow meter up"),
    ("pulse_down_nL", 1000, 500000000, "volume of one pulse of the flow meter down"),
    ("full_delay_ms", 0, 5000, "delay of 71H-UP"),
    ("over_full_delay_ms", 0, 5000, "delay of 71HH-UP"),
    ("upper_empty_delay_ms", 0, 10000, "delay of 71L-UP"),
    ("lower_empty_delay_ms", 0, 10000, "delay of 71L-LO"),
    ("motor_trip_mdegC", 30000, 110000, "pickup of 26-MOT"),
    ("motor_reset_mdegC", 20000, 100000, "reset of 26-MOT, below its pickup"),
    ("motor_delay_ms", 0, 10000, "delay of 26-MOT"),
    ("generator_trip_mV", 1000, 38000, "pickup of 59-GEN"),
    ("generator_reset_mV", 500, 37000, "reset of 59-GEN, below its pickup"),
    ("generator_delay_ms", 0, 1000, "delay of 59-GEN"),
    ("trip_retries", 0, 10, "trips of one side in a row before lockout"),
    ("trip_wait_s", 10, 7200, "wait after a trip before a new start"),
    ("trip_window_s", 60, 86400, "time without a trip after which the count starts anew"),
    ("start_panel_mV", 1000, 59000, "unloaded panel voltage that allows a trial start"),
    ("start_wait_s", 1, 3600, "how long the panel must hold that voltage"),
    ("trial_s", 2, 600, "length of a trial start, and of a lack of flow in pump mode"),
    ("useful_flow_uL_s", 1000, 1000000, "flow below which pumping is not worth it"),
    ("holdoff_s", 1, 3600, "first wait after a start that was too weak"),
    ("holdoff_longest_s", 1, 14400, "longest wait after starts that were too weak"),
    ("pump_least_on_s", 0, 3600, "shortest run of the pump; protection passes it by"),
    ("pump_least_off_s", 0, 3600, "shortest rest of the pump"),
    ("light_least_off_s", 0, 3600, "shortest rest of the turbine"),
    ("dark_panel_mV", 100, 59000, "panel voltage below which it is dark"),
    ("dark_s", 1, 7200, "how long it must be dark, or bright, to count"),
    ("setpoint_mW", 0, 1000000, "lamp power that the governor holds; 0 = no light"),
    ("lit_mW", 1, 100000, "lamp power above which the lamps count as lit"),
    ("valve_rate_permille_s", 10, 2000, "fastest safe travel of the valve"),
    ("valve_first_permille", 0, 1000, "first opening of the valve"),
    ("valve_shut_permille", 0, 100, "reading at or below which the valve is shut"),
    ("governor_gain_upermille_mW", 10, 1000000,
     "gain, millionths of a permille of jet power per mW"),
    ("governor_reset_ms", 200, 100000, "reset (integral) time of the governor"),
    ("curve_1_permille", 0, 1000, "valve position for 1/8 of full jet power"),
    ("curve_2_permille", 0, 1000, "valve position for 2/8"),
    ("curve_3_permille", 0, 1000, "valve position for 3/8"),
    ("curve_4_permille", 0, 1000, "valve position for 4/8"),
    ("curve_5_permille", 0, 1000, "valve position for 5/8"),
    ("curve_6_permille", 0, 1000, "valve position for 6/8"),
    ("curve_7_permille", 0, 1000, "valve position for 7/8"),
    ("row_running_s", 1, 60, "length of a journal row while running"),
    ("row_standstill_s", 1, 600, "length of a journal row at standstill"),
    ("tail_sync_s", 1, 60, "longest time that rows wait before they are on flash"),
)

# Pairs of settings of which the first must lie below the second.
ORDERED = (
    ("motor_reset_mdegC", "motor_trip_mdegC"),
    ("generator_reset_mV", "generator_trip_mV"),
    ("trip_wait_s", "trip_window_s"),  # else no trip would ever be the second in a row
)

NAMES = tuple([row[0] for row in SETTINGS])


def index(name):
    """Return the place [-] of a setting in the list of values; ValueError if there is none."""
    return NAMES.index(name)


def problems(values):
    """Return one line for each value that is out of range; an empty list if all is well."""
    if len(values) != len(SETTINGS):
        return ["%d settings, expected %d" % (len(values), len(SETTINGS))]
    found = []
    for row, value in zip(SETTINGS, values):
        if not row[1] <= value <= row[2]:
            found.append("%s = %d: must be %d to %d" % (row[0], value, row[1], row[2]))
    for lower, upper in ORDERED:
        if values[index(lower)] >= values[index(upper)]:
            found.append("%s must be below %s" % (lower, upper))
    return found


def pack(values):
    """Return settings [integers in table order] as the bytes of a settings file.

    Raises ValueError, with every problem in one line, if a value is out of range.
    """
    found = problems(values)
    if found:
        raise ValueError("; ".join(found))
    body = MAGIC + struct.pack("<HH", VERSION, len(values))
    for value in values:
        body += struct.pack("<i", value)
    return body + struct.pack("<I", binascii.crc32(body))


def unpack(data):
    """Return the settings [integers in table order] of a settings file.

    Raises ValueError if the file is damaged, of another version or out of range.
    """
    if len(data) < 12 or data[:4] != MAGIC:
        raise ValueError("not a settings file")
    if struct.unpack("<I", data[-4:])[0] != binascii.crc32(data[:-4]):
        raise ValueError("settings file damaged: the CRC does not fit")
    version, count = struct.unpack("<HH", data[4:8])
    if version != VERSION or len(data) != 12 + 4 * count:
        raise ValueError("settings of version %d, expected %d" % (version, VERSION))
    values = [struct.unpack("<i", data[at:at + 4])[0] for at in range(8, 8 + 4 * count, 4)]
    found = problems(values)
    if found:
        raise ValueError("; ".join(found))
    return values
