"""The settings of a rig: integers, declared once, versioned and guarded by a CRC.

The host compiles them from the rig's description; the board refuses a file
that is damaged, of another version or out of range, and stays safe.
"""

from keeper.channels import ALL_FITTED, POSITION_OFF
from keeper.integers import R_HIGHEST, R_NAME, checked, column, form_of, least, packed, unpacked
from keeper.integers import problems as problems_of

VERSION = 4

# name, lowest, highest.  The unit ends the name.
SETTINGS = (
    ("rig_id", 1, 1073741823),
    ("pulse_up_nL", 1000, 500000000),
    ("pulse_down_nL", 1000, 500000000),
    ("full_delay_ms", 0, 5000),
    ("over_full_delay_ms", 0, 5000),
    ("upper_empty_delay_ms", 0, 10000),
    ("lower_empty_delay_ms", 0, 10000),
    ("motor_trip_mdegC", 30000, 110000),
    ("motor_reset_mdegC", 20000, 100000),
    ("motor_delay_ms", 0, 10000),
    ("generator_trip_mV", 1000, 38000),
    ("generator_reset_mV", 500, 37000),
    ("generator_delay_ms", 0, 1000),
    ("overspeed_mV", 2000, 200000),
    ("generator_mohm", 0, 60000),
    ("fitted", 0, ALL_FITTED),
    ("level_full_mm", 1, 40000),
    ("level_high_mm", 2, 41000),
    ("level_empty_mm", -100, 39999),
    ("level_low_mm", -1000, 39998),
    ("volume_1_mL", 1, 1000000000),
    ("volume_2_mL", 2, 1000000000),
    ("volume_3_mL", 3, 1000000000),
    ("volume_4_mL", 4, 1000000000),
    ("volume_5_mL", 5, 1000000000),
    ("volume_6_mL", 6, 1000000000),
    ("volume_7_mL", 7, 1000000000),
    ("volume_8_mL", 8, 1000000000),
    ("volume_9_mL", 9, 1000000000),
    ("volume_10_mL", 10, 1000000000),
    ("volume_11_mL", 11, 1000000000),
    ("volume_12_mL", 12, 1000000000),
    ("volume_13_mL", 13, 1000000000),
    ("volume_14_mL", 14, 1000000000),
    ("volume_15_mL", 15, 1000000000),
    ("volume_16_mL", 16, 1000000000),
    ("level_reserve_mm", 1, 1000),
    ("lower_full_delay_ms", 0, 10000),
    ("thermal_base_mA", 10, 8000),
    ("thermal_tau_s", 10, 36000),
    ("motor_rise_mdegC", -100000, 100000),
    ("still_tau_s", 1, 360000),
    ("working_most_mdegC", 0, 200000),
    ("heating_mdegC", 1, 200000),
    ("warmth_noise_mdegC", 1, 100000),
    ("hot_water_mdegC", 0, 100000),
    ("hot_air_mdegC", 0, 100000),
    ("dry_base_mA", 0, 8000),
    ("dry_gain_uA_V2", 0, 100000),
    ("pump_judge_mV", 500, 59000),
    ("lead_mA", 1, 4000),
    ("dry_delay_ms", 500, 60000),
    ("stall_mohm", 1, 60000),
    ("stall_least_mA", 1, 8000),
    ("flow_sure_mW", 1, 500000),
    ("seen_flow_uL_s", 100, 2000000),
    ("trickle_mW", 0, 500000),
    ("useful_sure_mW", 1, 500000),
    ("no_flow_delay_ms", 3000, 120000),
    ("prime_ms", 500, 600000),
    ("fill_least_mV", 500, 60000),
    ("fill_most_s", 60, 10000000),
    ("fill_look_min", 60, 1000000),
    ("float_fall_s", 60, 10000000),
    ("welded_mA", 5, 8000),
    ("starts_per_hour", 1, 120),
    ("starts_most_milli", 1, 120000),
    ("starts_again_milli", 0, 119999),
    ("valve_gap_permille", 10, 1000),
    ("valve_travel_ms", 200, 300000),
    ("valve_open_permille", 1, 1000),
    ("valve_sure_permille", 1, 1001),
    ("wheel_turns_permille", 1, 1001),
    ("no_volts_delay_ms", 3000, 300000),
    ("shut_dark_ms", 1000, 500000000),
    ("shut_flow_uL_s", 100, 1000000),
    ("leak_mm", 2, 1000),
    ("volume_gap_mm", 2, 1000),
    ("lamp_sure_mV", 100, 40000),
    ("lamp_gap_mA", 1, 8000),
    ("clamp_free_mV", 100, 40000),
    ("generator_most_mW", 10, 1100000),
    ("supply_low_mV", 1000, 40000),
    ("supply_good_mV", 1001, 40000),
    ("supply_delay_ms", 0, 60000),
    ("freeze_mdegC", -20000, 20000),
    ("cold_mdegC", -19000, 25000),
    ("cold_reset_mdegC", -18000, 30000),
    ("trip_retries", 0, 10),
    ("trip_wait_s", 10, 7200),
    ("trip_window_s", 60, 86400),
    ("start_panel_mV", 1000, 59000),
    ("start_wait_s", 1, 3600),
    ("trial_s", 2, 600),
    ("useful_flow_uL_s", 1000, 1000000),
    ("holdoff_s", 1, 3600),
    ("holdoff_longest_s", 1, 14400),
    ("pump_least_on_s", 0, 3600),
    ("pump_least_off_s", 0, 3600),
    ("light_least_off_s", 0, 3600),
    ("light_rest_longest_s", 1, 14400),
    ("dark_panel_mV", 100, 59000),
    ("dark_s", 1, 7200),
    ("setpoint_mW", 0, 1000000),
    ("useful_mW", 1, 1000000),
    ("step_1_mW", 0, 1000000),
    ("step_2_mW", 0, 1000000),
    ("step_3_mW", 0, 1000000),
    ("step_4_mW", 0, 1000000),
    ("step_5_mW", 0, 1000000),
    ("step_6_mW", 0, 1000000),
    ("step_7_mW", 0, 1000000),
    ("step_8_mW", 0, 1000000),
    ("light_press_min", 1, 1440),
    ("at_dusk", 0, 1),
    ("until_dawn", 0, 1),
    ("clock_on_min", -1, 1439),
    ("clock_off_min", -1, 1439),
    ("longest_night_min", 1, 1440),
    ("night_full_mW", 1, 1000000),
    ("specific_1_mJ_L", 1, 100000000),
    ("specific_2_mJ_L", 1, 100000000),
    ("specific_3_mJ_L", 1, 100000000),
    ("specific_4_mJ_L", 1, 100000000),
    ("specific_5_mJ_L", 1, 100000000),
    ("specific_6_mJ_L", 1, 100000000),
    ("specific_7_mJ_L", 1, 100000000),
    ("specific_8_mJ_L", 1, 100000000),
    ("full_sure_mL", 1, 1000000000),
    ("spare_mL", 0, 1000000000),
    ("output_permille", 1, 900),
    ("flow_permille", 0, 900),
    ("lift_most_uL_s", 1, 100000000),
    ("lit_mW", 1, 100000),
    ("valve_rate_permille_s", 10, 2000),
    ("valve_shut_permille", 0, 100),
    ("valve_zero_permille", 0, POSITION_OFF),
    ("valve_run_ms", 0, 120000),
    ("valve_pulse_ms", 1, 100),
    ("valve_rest_ms", 200, 5000),
    ("valve_backlash_permille", 0, 100),
    ("valve_press_ms", 0, 60000),
    ("settle_ms", 100, 60000),
    ("slope_0_centi", 10, 10000),
    ("slope_1_centi", 10, 10000),
    ("slope_2_centi", 10, 10000),
    ("slope_3_centi", 10, 10000),
    ("slope_4_centi", 10, 10000),
    ("slope_5_centi", 10, 10000),
    ("slope_6_centi", 10, 10000),
    ("slope_7_centi", 10, 10000),
    ("slope_8_centi", 10, 10000),
    ("travel_1_permille", 0, 1000),
    ("travel_2_permille", 0, 1000),
    ("travel_3_permille", 0, 1000),
    ("travel_4_permille", 0, 1000),
    ("travel_5_permille", 0, 1000),
    ("travel_6_permille", 0, 1000),
    ("travel_7_permille", 0, 1000),
    ("travel_8_permille", 0, 1000),
    ("row_running_s", 1, 60),
    ("row_standstill_s", 1, 600),
    ("tail_sync_s", 1, 60),
)  # type: tuple

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

NAMES = column(SETTINGS, R_NAME)
FORM = form_of(b"fbys", VERSION, SETTINGS, ORDERED)


def index(name):
    """Return the place [-] of a setting in the list of values; ValueError if there is none."""
    return NAMES.index(name)


RUN_PLACE = index("valve_run_ms")
FITTED_PLACE = index("fitted")
LONGEST_RUN_MS = SETTINGS[RUN_PLACE][R_HIGHEST]


def fallback():
    """Return legal settings for a board whose own are unreadable: it only shuts its valve.

    Nobody knows how long that runs: as long as any valve needs.
    """
    values = least(FORM)
    values[RUN_PLACE] = LONGEST_RUN_MS
    values[FITTED_PLACE] = ALL_FITTED  # nobody knows what is absent: nothing counts as that
    return values


def problems(values):
    """Return one line for each value that is out of range; an empty list if all is well."""
    return problems_of(SETTINGS, FORM, values)


def pack(values):
    """Return settings [integers in table order] as the bytes of their file; or ValueError."""
    return checked(FORM, values, problems(values))


def file_of(values):
    """Return settings that were found good as the bytes of their file."""
    return packed(FORM, values)


def unpack(data):
    """Return the settings [integers in table order] of a file.  Raises ValueError."""
    return unpacked(FORM, data)
