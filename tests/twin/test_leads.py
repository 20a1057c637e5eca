"""What the board is told: loops, and wires and instruments that lie as the catalogue says."""

import pytest

from forebay.twin.effects import WIRED, apply
from forebay.twin.leads import Leads
from forebay.words.measured import REASONS
from keeper import channels as ch
from tests.twin.ledger import plant
from tests.twin.rigs import HALF, steady, twin

# The catalogue's own words, read as what a board must then be told: fault -> {place: value}.
# A reason is told as INVALID plus its number in the list of reasons.
REASON = {text: ch.INVALID + number for number, text in REASONS.items()}
LOST, CLIPPED = REASON["no answer"], REASON["clipped"]
TELLS = {
    "motor-sensor-open": {"motor_mdegC": REASON["open"]},
    "motor-sensor-short": {"motor_mdegC": REASON["short"]},
    "motor-sensor-reset": {"motor_mdegC": REASON["power-on value"]},
    "motor-sensor-zero": {"motor_mdegC": REASON["all zero"]},
    "motor-sensor-stale": {"motor_mdegC": REASON["stale"]},
    "water-sensor-lost": {"water_mdegC": LOST},
    "panel-monitor-lost": {"panel_mV": LOST, "panel_mA": LOST},
    "panel-current-clipped": {"panel_mA": CLIPPED},
    "pump-current-clipped": {"pump_mA": CLIPPED},
    "generator-monitor-lost": {"generator_mV": LOST, "generator_mA": LOST},
    "generator-current-clipped": {"generator_mA": CLIPPED},
    "lamp-monitor-lost": {"lamp_mA": LOST},
    "lamp-current-zero": {"lamp_mA": 0},
    "supply-monitor-lost": {"supply_mV": LOST, "supply_mA": LOST},
    "supply-current-clipped": {"supply_mA": CLIPPED},
    "level-sensor-open": {"level_mm": REASON["open"]},
    "level-sensor-short": {"level_mm": REASON["short"]},
    "valve-sensor-open": {"valve_permille": REASON["open"]},
    "button-stuck": {"button": 1},
    # Loops: 1 = closed.  Overfill loops are closed while the float hangs, low ones while wet.
    "upper-float-stuck": {"contact_71h_up": 1},
    "upper-float-cut": {"contact_71h_up": 0},
    "over-full-cut": {"contact_71hh_up": 0},
    "over-full-loop-shorted": {"loop_71hh": 1},
    "over-full-loop-cut": {"loop_71hh": 2, "contact_71hh_up": 1},
    "low-float-stuck": {"contact_71l_up": 1},
    "low-float-cut": {"contact_71l_up": 0},
    "lower-float-stuck": {"contact_71l_lo": 1},
    "lower-float-cut": {"contact_71l_lo": 0},
    "lower-full-cut": {"contact_71h_lo": 0},
    "stop-pressed": {"contact_stop": 0},
}
PLACES = {row[0]: place for place, row in enumerate(ch.CHANNELS)}
PLACES |= {name: ch.COLUMNS + place for place, name in enumerate(ch.CONTACTS)}
PLACES["loop_71hh"] = ch.LOOP_71HH
NEVER = 123456           # a value that no instrument gives


@pytest.mark.parametrize("name", TELLS)
def test_a_fault_tells_the_board_what_the_catalogue_says_and_nothing_else(tmp_path, name):
    one = twin(tmp_path, steady(0.0), HALF)
    one.run(5)
    sound = [NEVER] * ch.READ
    one.plant.contacts_new = True
    one.board.read(sound)
    apply(name, one.plant, one.leads)
    seen = [NEVER] * ch.READ
    one.plant.contacts_new = True
    one.board.read(seen)
    told = {PLACES[key]: value for key, value in TELLS[name].items()}
    assert {place: seen[place] for place in told} == told
    # Contacts and loops that are not its own read as before; a dry tank has its own float.
    own = set(told) | ({ch.C_71L_LO} if name == "lower-float-stuck" else set())
    others = set(range(ch.COLUMNS, ch.PULSES_UP)) - own
    assert [seen[place] for place in sorted(others)] == [sound[place] for place in sorted(others)]
    analogue = set(range(ch.COLUMNS)) - own - {ch.FLOW_UP, ch.FLOW_DOWN}
    assert all(seen[place] == NEVER or seen[place] > -10**6 for place in analogue)


def test_a_sound_rig_reads_its_floats_as_closed_and_open_loops(tmp_path):
    # A little over the low floats, under the high ones: every loop closed.
    one = twin(tmp_path, steady(0.0), HALF)
    values = [NEVER] * ch.READ
    one.board.read(values)
    loops = (ch.C_71H_UP, ch.C_71HH_UP, ch.C_71L_UP, ch.C_71L_LO, ch.C_71H_LO, ch.C_STOP)
    assert [values[place] for place in loops] == [1] * 6
    assert values[ch.BUTTON] == 0
    assert values[ch.LOOP_71HH] == ch.LOOP_HEALTHY
    one.plant.upper.add(0.99 - one.plant.upper.volume_m3)
    one.plant.lower.add(0.05 - one.plant.lower.volume_m3)
    one.plant._floats()
    one.board.read(values)
    assert [values[place] for place in loops] == [0, 0, 1, 0, 1, 1]
    one.plant.upper.add(0.04 - one.plant.upper.volume_m3)
    one.plant.lower.add(1.29 - one.plant.lower.volume_m3)
    one.plant._floats()
    one.board.read(values)
    assert [values[place] for place in loops] == [1, 1, 0, 1, 0, 1]


def test_contacts_that_have_not_moved_are_left_as_the_keepers_list_has_them(tmp_path):
    one = twin(tmp_path, steady(0.0), HALF)
    values = [NEVER] * ch.READ
    one.board.read(values)
    values[ch.C_71H_UP] = NEVER
    one.board.read(values)
    assert values[ch.C_71H_UP] == NEVER
    one.plant.rewire()
    one.board.read(values)
    assert values[ch.C_71H_UP] == 1


def test_the_button_is_read_in_every_scan(tmp_path):
    one = twin(tmp_path, steady(0.0), HALF)
    values = [NEVER] * ch.READ
    one.board.read(values)
    one.board.button = 1
    one.board.read(values)
    assert values[ch.BUTTON] == 1


# Leads ------------------------------------------------------------------------------------


def disturbed(leads, *readings):
    """Returns what becomes of readings at place 3, scan by scan."""
    seen = []
    for value in readings:
        values = [0] * 8
        values[3] = value
        leads.disturb(values)
        seen.append(values[3])
        assert values[:3] + values[4:] == [0] * 7
    return seen


def wired(way, *arguments):
    leads = Leads()
    getattr(leads, way)(3, *arguments)
    return leads


def test_each_way_in_which_a_wire_lies():
    assert disturbed(wired("says", 9), 1, 2, 3) == [9, 9, 9]
    assert disturbed(wired("adds", 80), 1, 2, -3) == [81, 82, 77]
    assert disturbed(wired("sticks"), 5, 6, 7) == [5, 5, 5]
    assert disturbed(wired("grows", 400), 5, 6) == [20, 24]
    # 40 % of the pulses, none lost in rounding: 4 of 10.
    assert disturbed(wired("shares", 40), *[1] * 10) == [0, 0, 1, 0, 1, 0, 0, 1, 0, 1]
    assert disturbed(wired("shares", 0), 5, 6) == [0, 0]
    assert disturbed(wired("shares", 250), 2, 2) == [5, 5]


def test_two_values_that_are_swapped_each_say_what_the_other_is():
    leads = wired("swaps", 5)
    values = [0, 1, 2, 30, 4, 50]
    leads.disturb(values)
    assert values == [0, 1, 2, 50, 4, 30]


def test_a_chattering_contact_opens_two_seconds_of_every_45():
    seen = disturbed(wired("chatters"), *[1] * 1350)
    assert seen.count(0) == 60
    opened = [scan for scan in range(1, 1350) if seen[scan] < seen[scan - 1]]
    closed = [scan for scan in range(1, 1350) if seen[scan] > seen[scan - 1]]
    assert [b - a for a, b in zip(opened, opened[1:], strict=False)] == [450] * (len(opened) - 1)
    assert closed[-1] - opened[-1] == 20 or closed[-1] - opened[-2] == 20


def test_two_lies_of_one_place_come_one_after_the_other():
    leads = wired("adds", 80)
    leads.grows(3, 200)
    assert disturbed(leads, 10) == [180]


LIES = {  # fault -> (place, readings, what the board is told)
    "meter-up-stopped": (ch.PULSES_UP, [3, 3], [0, 0]),
    "meter-up-slow": (ch.PULSES_UP, [5, 5], [2, 2]),
    "meter-down-stopped": (ch.PULSES_DOWN, [3, 3], [0, 0]),
    "motor-sensor-stuck": (ch.MOTOR_MDEGC, [20000, 30000], [24000, 24000]),
    "meter-up-noise": (ch.PULSES_UP, [3, 3], [3, 4]),
    "meter-down-noise": (ch.PULSES_DOWN, [0, 0], [0, 1]),
    "lamp-current-low": (ch.LAMP_MA, [50, 100], [8, 16]),
    "pump-current-high": (ch.PUMP_MA, [500, 600], [2000, 2400]),
    "generator-current-high": (ch.GENERATOR_MA, [50, 60], [1000, 1200]),
    "level-stuck": (ch.LEVEL_MM, [500, 510], [500, 500]),
    "level-offset": (ch.LEVEL_MM, [500, 510], [580, 590]),
}


@pytest.mark.parametrize("name", LIES)
def test_a_wire_that_lies_lies_as_the_catalogue_says(name):
    place, readings, told = LIES[name]
    leads = Leads()
    apply(name, plant(steady(0.0)), leads)
    seen = []
    for value in readings:
        values = [0] * ch.READ
        values[place] = value
        leads.disturb(values)
        seen.append(values.pop(place))
        assert set(values) == {0}
    assert seen == told


def test_swapped_thermometers_are_those_of_motor_and_water():
    leads = Leads()
    apply("thermometers-swapped", plant(steady(0.0)), leads)
    values = list(range(ch.READ))
    leads.disturb(values)
    assert (values[ch.MOTOR_MDEGC], values[ch.WATER_MDEGC]) == (ch.WATER_MDEGC, ch.MOTOR_MDEGC)
    values[ch.MOTOR_MDEGC], values[ch.WATER_MDEGC] = ch.MOTOR_MDEGC, ch.WATER_MDEGC
    assert values == list(range(ch.READ))


# The catalogue's words once more, as the way in which that wire fails and what it is of.
FAILS = {
    "upper-float-loose": ("flickers", "contact_71h_up"),
    "over-full-loose": ("flickers", "contact_71hh_up"),
    "low-float-loose": ("flickers", "contact_71l_up"),
    "lower-float-loose": ("flickers", "contact_71l_lo"),
    "lower-full-loose": ("flickers", "contact_71h_lo"),
    "stop-loose": ("flickers", "contact_stop"),
    "panel-monitor-drops": ("drops", "panel_mA"), "pump-monitor-drops": ("drops", "pump_mA"),
    "generator-monitor-drops": ("drops", "generator_mA"),
    "lamp-monitor-drops": ("drops", "lamp_mA"), "supply-monitor-drops": ("drops", "supply_mA"),
    "motor-sensor-garbled": ("garbles", "motor_mdegC"),
    "water-sensor-garbled": ("garbles", "water_mdegC"),
    "panel-voltage-stuck": ("sticks", "panel_mV"), "panel-current-stuck": ("sticks", "panel_mA"),
    "pump-current-stuck": ("sticks", "pump_mA"),
    "generator-voltage-stuck": ("sticks", "generator_mV"),
    "generator-current-stuck": ("sticks", "generator_mA"),
    "lamp-current-stuck": ("sticks", "lamp_mA"), "supply-voltage-stuck": ("sticks", "supply_mV"),
    "supply-current-stuck": ("sticks", "supply_mA"),
    "water-sensor-stuck": ("sticks", "water_mdegC"),
}


@pytest.mark.parametrize("name", FAILS)
def test_a_wire_that_fails_is_the_one_that_the_catalogue_names(name):
    way, channel = FAILS[name]
    done, wanted = Leads(), Leads()
    apply(name, plant(steady(0.0)), done)
    getattr(wanted, way)(PLACES[channel])
    assert done.odd == wanted.odd
    assert done.judges == wanted.judges


def test_every_wire_of_the_table_is_looked_at_here():
    assert set(WIRED) == set(FAILS)


def test_a_chattering_upper_float_is_that_float():
    leads = Leads()
    apply("upper-float-chatters", plant(steady(0.0)), leads)
    values = [1] * ch.READ
    leads.disturb(values)
    assert values.index(0) == ch.C_71H_UP
    assert values.count(0) == 1
