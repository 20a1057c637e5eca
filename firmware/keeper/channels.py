"""What the keeper measures and drives: one list of values, declared once.

`VALUES` is the working list of a scan.  The first `COLUMNS` entries are the
analogue channels, in the order of the journal's columns; then come contacts
and raw pulse counts.  A board fills the list in `read(values)`; the scan
derives the two flows from the pulses.  All entries are integers in the unit
that ends their name.

Signs: every power and flow is positive in its normal direction; the supply
current is positive while the buffer battery charges.
"""

# A reading that cannot be trusted.  It lies outside every legal range and
# within 31 bits, so that it stays a small int on the board.  A driver may add
# one of the reasons; the scan keeps the reason and stores plain INVALID.
INVALID = -(1 << 29)
REASONS = range(9)
(OUT_OF_RANGE, OPEN, SHORT, NO_ANSWER, DAMAGED, POWER_ON_VALUE, CLIPPED, STALE,
 ALL_ZERO) = REASONS

# A valve's position may read off by so much at its ends, and it flickers; a broken wire is
# known by its driver.
POSITION_OFF, POSITION_FLICKER = 700, 20

# name, unit, lowest and highest legal value, journal step as a ratio
# (value = stored number * numerator / denominator).
# The steps are the resolutions of the instruments that the demo rig assumes.
# Highest voltage times highest current stays below 2**29: see totals.py.
CHANNELS = (
    ("panel_mV", "mV", -500, 60000, 10, 1),
    ("panel_mA", "mA", -500, 8000, 1, 1),
    ("pump_mA", "mA", -500, 8000, 1, 1),
    ("generator_mV", "mV", -500, 40000, 10, 1),
    ("generator_mA", "mA", -500, 8000, 1, 1),
    ("lamp_mA", "mA", -500, 8000, 1, 1),
    ("supply_mV", "mV", -500, 40000, 10, 1),
    ("supply_mA", "mA", -8000, 8000, 1, 1),
    ("flow_up_uL_s", "uL/s", 0, 1000000, 100, 1),
    ("flow_down_uL_s", "uL/s", 0, 1000000, 100, 1),
    ("level_mm", "mm", -100, 10000, 1, 1),
    ("motor_mdegC", "mdegC", -40000, 125000, 125, 2),
    ("water_mdegC", "mdegC", -40000, 125000, 125, 2),
    ("valve_permille", "permille", -POSITION_OFF - POSITION_FLICKER,
     1000 + POSITION_OFF + POSITION_FLICKER, 1, 1),
)  # type: tuple

(CH_NAME, CH_UNIT, CH_LOW, CH_HIGH, CH_STEP_NUM, CH_STEP_DEN) = range(6)

(PANEL_MV, PANEL_MA, PUMP_MA, GENERATOR_MV, GENERATOR_MA, LAMP_MA, SUPPLY_MV, SUPPLY_MA,
 FLOW_UP, FLOW_DOWN, LEVEL_MM, MOTOR_MDEGC, WATER_MDEGC, VALVE_PERMILLE) = range(14)
COLUMNS = 14

# The monitors of the rig in the order in which they are read: places of its current and of
# the voltage of its node, whether every scan needs it.  The first that a rig has of a node
# reads its voltage (`keeper.instruments.monitors.arranged`).  Those that not every scan
# needs are read in turn, one a scan; till its turn comes a value stands.
NOWHERE = -1
MONITORS = (
    (PANEL_MA, PANEL_MV, False),
    (PUMP_MA, PANEL_MV, True),
    (GENERATOR_MA, GENERATOR_MV, True),
    (LAMP_MA, GENERATOR_MV, False),
    (SUPPLY_MA, SUPPLY_MV, False),
)

# Contacts: 1 = loop closed (current flows), 0 = open.  Overfill loops are
# closed while the float hangs, low-level loops are closed while it is wet: a
# cut wire reads as the dangerous side.
CONTACTS = (
    "contact_71h_up",
    "contact_71hh_up",
    "contact_71l_up",
    "contact_71l_lo",
    "button",
    "contact_71h_lo",
    "contact_stop",
)
(C_71H_UP, C_71HH_UP, C_71L_UP, C_71L_LO, BUTTON, C_71H_LO,
 C_STOP) = range(COLUMNS, COLUMNS + len(CONTACTS))

# What a rig has or lacks: the setting `fitted` has a bit for each channel and contact.
FITTABLE = COLUMNS + len(CONTACTS)
ALL_FITTED = (1 << FITTABLE) - 1
ALL_CHANNELS = (1 << COLUMNS) - 1

# Pulses counted by the two flow meters since the scan before.
PULSES_UP, PULSES_DOWN = COLUMNS + len(CONTACTS), COLUMNS + len(CONTACTS) + 1
# The over-full loop, where an end-of-line resistor supervises it.
LOOP_71HH = PULSES_DOWN + 1
LOOP_HEALTHY, LOOP_SHORTED, LOOP_CUT = 0, 1, 2
READ = LOOP_71HH + 1  # a board fills the values before this place, but for the two flows

# What the keeper drives: name, lowest, highest.  Everything off and shut is all zero.
# `valve_drive_ms` is for how long of a scan, 100 ms, the valve's motor runs, + opens.
OUTPUTS = (
    ("pump_switch", 0, 1),
    ("valve_permille", 0, 1000),
    ("lamps_off", 0, 1),
    ("dump_switch", 0, 1),
    ("valve_drive_ms", -100, 100),
)
OUT_PUMP, OUT_VALVE, OUT_LAMPS_OFF, OUT_DUMP, OUT_DRIVE = range(len(OUTPUTS))

# Totalizers.  A total is two limbs: `high` counts whole thousand millions of
# the unit, `low` the rest, so that both stay small ints.
LIMB = 1000000000
TOTALS = (
    "panel_mJ",
    "pump_mJ",
    "supply_in_mJ",
    "supply_out_mJ",
    "generator_mJ",
    "lamp_mJ",
    "up_uL",
    "down_uL",
    "pump_ms",
    "light_ms",
)
(T_PANEL, T_PUMP, T_SUPPLY_IN, T_SUPPLY_OUT, T_GENERATOR, T_LAMP, T_UP, T_DOWN,
 T_PUMP_MS, T_LIGHT_MS) = range(10)
