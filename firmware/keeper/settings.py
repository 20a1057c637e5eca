"""The settings of a rig: integers, declared once, versioned and guarded by a CRC.

The host compiles them from the rig's description; the board refuses a file
that is damaged, of another version or out of range, and stays safe.
"""

import binascii
import struct

VERSION = 2
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
    ("overspeed_mV", 2000, 200000, "pickup of 12-GEN, inner voltage of the generator"),
    ("generator_mohm", 0, 60000, "winding resistance of the generator"),
    ("fitted", 0, 0x3FFF, "which channels exist, bit i = channel i"),
    ("level_full_mm", 1, 40000, "level at which the full float lifts"),
    ("level_high_mm", 2, 41000, "pickup of 71H-LVL, above the float"),
    ("level_empty_mm", -100, 39999, "level at which the low float hangs dry"),
    ("level_low_mm", -1000, 39998, "pickup of 71L-LVL, below the float"),
    ("upper_area_cm2", 10, 100000000, "water surface of the upper tank, mean"),
    ("lower_full_delay_ms", 0, 10000, "delay of 71H-LO"),
    ("thermal_base_mA", 10, 8000, "current that the motor stands for ever, of 49-MOT"),
    ("thermal_tau_s", 10, 36000, "time constant of 49-MOT"),
    ("dry_base_mA", 0, 8000, "current of 37-PMP at no voltage"),
    ("dry_gain_uA_V2", 0, 100000, "growth of the current of 37-PMP with voltage squared"),
    ("pump_judge_mV", 500, 59000, "panel voltage below which 37-PMP does not judge"),
    ("dry_delay_ms", 500, 60000, "delay of 37-PMP"),
    ("stall_mohm", 1, 60000, "voltage per ampere below which the motor stands, 14-PMP"),
    ("stall_least_mA", 1, 8000, "current below which 14-PMP does not judge"),
    ("flow_sure_mW", 1, 500000, "power at which water surely goes up, 80-PMP and 48-PMP"),
    ("no_flow_delay_ms", 3000, 120000, "delay of 80-PMP and 80-VLV"),
    ("prime_ms", 500, 600000, "delay of 48-PMP"),
    ("welded_mA", 5, 8000, "pump current that a switch that is off must not pass, 3-SW"),
    ("starts_per_hour", 1, 120, "starts of the pump that an hour allows"),
    ("starts_most_milli", 1, 120000, "pickup of 66-PMP"),
    ("starts_again_milli", 0, 119999, "reset of 66-PMP"),
    ("valve_gap_permille", 10, 1000, "pickup of 48-VLV"),
    ("valve_travel_ms", 200, 300000, "delay of 48-VLV: its travel and a reserve"),
    ("valve_open_permille", 1, 1000, "pickup of 33-VLV: the valve counts as open"),
    ("valve_sure_permille", 1, 1001, "opening at which water surely goes down, 80-VLV"),
    ("shut_flow_uL_s", 100, 1000000, "pickup of 48-SHT"),
    ("leak_mm", 2, 1000, "pickup of 71D-UP"),
    ("volume_gap_mm", 2, 1000, "pickup of 3-VOL"),
    ("lamp_sure_mV", 100, 40000, "voltage at which the lamps surely draw current, 37-LMP"),
    ("supply_low_mV", 1000, 40000, "pickup of 27-SUP"),
    ("supply_good_mV", 1001, 40000, "reset of 27-SUP"),
    ("supply_delay_ms", 0, 60000, "delay of 27-SUP"),
    ("freeze_mdegC", -20000, 20000, "pickup of 23-WTR: no new start"),
    ("cold_mdegC", -19000, 25000, "pickup of 23-CLD, reset of 23-WTR"),
    ("cold_reset_mdegC", -18000, 30000, "reset of 23-CLD"),
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
    ("useful_mW", 1, 1000000, "lamp power below which the light is not worth it"),
    ("step_1_mW", 0, 1000000, "brightness step 1 of the button, 0 = none"),
    ("step_2_mW", 0, 1000000, "brightness step 2"),
    ("step_3_mW", 0, 1000000, "brightness step 3"),
    ("step_4_mW", 0, 1000000, "brightness step 4"),
    ("step_5_mW", 0, 1000000, "brightness step 5"),
    ("step_6_mW", 0, 1000000, "brightness step 6"),
    ("step_7_mW", 0, 1000000, "brightness step 7"),
    ("step_8_mW", 0, 1000000, "brightness step 8"),
    ("light_press_min", 1, 1440, "how long a press of the button lights by day"),
    ("at_dusk", 0, 1, "1 = the light comes with the dusk"),
    ("until_dawn", 0, 1, "1 = dim so that the light lasts till dawn, where the water allows"),
    ("clock_on_min", -1, 1439, "UTC minute of the day at which the light comes, -1 = none"),
    ("clock_off_min", -1, 1439, "UTC minute of the day at which it goes"),
    ("longest_night_min", 1, 1440, "longest night of the site"),
    ("night_full_mW", 1, 1000000, "setpoint of the last point of the specific output"),
    ("specific_1_mJ_L", 1, 100000000, "lamp energy from a litre at 1/8 of that setpoint"),
    ("specific_2_mJ_L", 1, 100000000, "at 2/8"),
    ("specific_3_mJ_L", 1, 100000000, "at 3/8"),
    ("specific_4_mJ_L", 1, 100000000, "at 4/8"),
    ("specific_5_mJ_L", 1, 100000000, "at 5/8"),
    ("specific_6_mJ_L", 1, 100000000, "at 6/8"),
    ("specific_7_mJ_L", 1, 100000000, "at 7/8"),
    ("specific_8_mJ_L", 1, 100000000, "at the setpoint itself"),
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
    ("generator_trip_mV", "overspeed_mV"),
    ("level_full_mm", "level_high_mm"),
    ("level_empty_mm", "level_full_mm"),
    ("level_low_mm", "level_empty_mm"),
    ("valve_shut_permille", "valve_open_permille"),
    ("starts_again_milli", "starts_most_milli"),
    ("supply_low_mV", "supply_good_mV"),
    ("freeze_mdegC", "cold_mdegC"),
    ("cold_mdegC", "cold_reset_mdegC"),
    ("trip_wait_s", "trip_window_s"),  # else no trip would ever be the second in a row
)

NAMES = tuple([row[0] for row in SETTINGS])


def index(name):
    """Return the place [-] of a setting in the list of values; ValueError if there is none."""
    return NAMES.index(name)


def fallback():
    """Return legal settings for a board whose own are unreadable: it does nothing with them."""
    values = [row[1] for row in SETTINGS]
    again = True
    while again:  # raise what must lie above; the pairs make no circle
        again = False
        for lower, upper in ORDERED:
            if values[index(lower)] >= values[index(upper)]:
                values[index(upper)] = values[index(lower)] + 1
                again = True
    return values


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
