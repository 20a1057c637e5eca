"""What each fault of the catalogue does to the plant and to what the board reads."""

import pytest

from forebay.twin.effects import apply, cloud_from
from forebay.twin.wiring import Wiring
from keeper import channels as ch
from tests.twin.ledger import plant
from tests.twin.rigs import HALF, run, steady, twin

# The catalogue's own words, read as what a board must then be told: fault -> {place: value}.
# A reason is told as INVALID plus its number in the list of reasons.
REASON = {text: ch.INVALID + place for place, text in enumerate(ch.REASONS)}
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
PLACES |= {row[0]: ch.COLUMNS + place for place, row in enumerate(ch.CONTACTS)}
PLACES["loop_71hh"] = ch.LOOP_71HH
NEVER = 123456           # a value that no instrument gives


@pytest.mark.parametrize("name", TELLS)
def test_a_fault_tells_the_board_what_the_catalogue_says_and_nothing_else(tmp_path, name):
    one = twin(tmp_path, steady(0.0), HALF)
    one.run(5)
    sound = [NEVER] * ch.READ
    one.plant.contacts_new = True
    one.board.read(sound)
    apply(name, one.plant, one.wiring)
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


# Wiring ------------------------------------------------------------------------------------


def disturbed(wiring, *readings):
    """Returns what becomes of readings at place 3, scan by scan."""
    seen = []
    for value in readings:
        values = [0] * 8
        values[3] = value
        wiring.disturb(values)
        seen.append(values[3])
        assert values[:3] + values[4:] == [0] * 7
    return seen


def wired(way, *arguments):
    wiring = Wiring()
    getattr(wiring, way)(3, *arguments)
    return wiring


def test_each_way_in_which_a_wire_lies():
    assert disturbed(wired("says", 9), 1, 2, 3) == [9, 9, 9]
    assert disturbed(wired("adds", 80), 1, 2, -3) == [81, 82, 77]
    assert disturbed(wired("sticks"), 5, 6, 7) == [5, 5, 5]
    assert disturbed(wired("grows", 400), 5, 6) == [20, 24]
    # 40 % of the pulses, none lost in rounding: 4 of 10.
    assert disturbed(wired("shares", 40), *[1] * 10) == [0, 0, 1, 0, 1, 0, 0, 1, 0, 1]
    assert disturbed(wired("shares", 0), 5, 6) == [0, 0]
    assert disturbed(wired("shares", 250), 2, 2) == [5, 5]


def test_a_chattering_contact_opens_two_seconds_of_every_45():
    seen = disturbed(wired("chatters"), *[1] * 1350)
    assert seen.count(0) == 60
    opened = [scan for scan in range(1, 1350) if seen[scan] < seen[scan - 1]]
    closed = [scan for scan in range(1, 1350) if seen[scan] > seen[scan - 1]]
    assert [b - a for a, b in zip(opened, opened[1:], strict=False)] == [450] * (len(opened) - 1)
    assert closed[-1] - opened[-1] == 20 or closed[-1] - opened[-2] == 20


def test_two_lies_of_one_place_come_one_after_the_other():
    wiring = wired("adds", 80)
    wiring.grows(3, 200)
    assert disturbed(wiring, 10) == [180]


LIES = {  # fault -> (place, readings, what the board is told)
    "meter-up-stopped": (ch.PULSES_UP, [3, 3], [0, 0]),
    "meter-up-slow": (ch.PULSES_UP, [5, 5], [2, 2]),
    "meter-down-stopped": (ch.PULSES_DOWN, [3, 3], [0, 0]),
    "motor-sensor-stuck": (ch.MOTOR_MDEGC, [20000, 30000], [20000, 20000]),
    "pump-current-high": (ch.PUMP_MA, [500, 600], [2000, 2400]),
    "generator-current-high": (ch.GENERATOR_MA, [50, 60], [1000, 1200]),
    "level-stuck": (ch.LEVEL_MM, [500, 510], [500, 500]),
    "level-offset": (ch.LEVEL_MM, [500, 510], [580, 590]),
}


@pytest.mark.parametrize("name", LIES)
def test_a_wire_that_lies_lies_as_the_catalogue_says(name):
    place, readings, told = LIES[name]
    wiring = Wiring()
    apply(name, plant(steady(0.0)), wiring)
    seen = []
    for value in readings:
        values = [0] * ch.READ
        values[place] = value
        wiring.disturb(values)
        seen.append(values.pop(place))
        assert set(values) == {0}
    assert seen == told


def test_a_chattering_upper_float_is_that_float():
    wiring = Wiring()
    apply("upper-float-chatters", plant(steady(0.0)), wiring)
    values = [1] * ch.READ
    wiring.disturb(values)
    assert values.index(0) == ch.C_71H_UP
    assert values.count(0) == 1


# Plant -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("seconds", "irradiance"), [
    (0, 1000), (59, 1000), (61, 575), (62.5, 150), (180, 150), (183, 575), (185, 1000),
    (243, 1000), (244.5, None), (1000, None)])
def test_a_cloud_is_full_sun_an_edge_of_two_seconds_shade_and_an_edge_again(seconds, irradiance):
    # 60 s of 1000 W/m2, 2 s down to 150, 120 s of it, 2 s up, 60 s of 1000.
    assert cloud_from(100.0)(100.0 + seconds) == irradiance


def test_a_cloud_replaces_the_day_at_once_in_every_scan_and_then_leaves():
    one = run(plant(steady(300.0, cell_degC=25.0), HALF), 10.05)
    light_1000 = one.up.light / 0.3
    apply("cloud-edge", one, Wiring())
    for seconds, irradiance in ((0.1, 1000), (61.0, 575), (61.5, 362.5), (120.0, 150),
                                (230.0, 1000), (260.0, 300)):
        while one.time_s < 10.1 + seconds - 1e-6:
            one.step(0.1)
        one.step(1e-9)
        assert one.up.light / light_1000 * 1000 == pytest.approx(irradiance, abs=45), seconds


def applied(name, seconds=5.0, sun=0.0, drive=(0, 0), before=5.0):
    """A plant that was driven for a while, then met by a fault, then driven on."""
    one = plant(steady(sun), HALF)
    one.command(*drive)
    run(one, before)
    apply(name, one, Wiring())
    one.command(*drive)
    return run(one, seconds)


def test_faults_of_tanks_move_as_much_water_as_they_say():
    sound = plant(steady(0.0), HALF)
    assert applied("lower-tank-dry").lower.volume_m3 == 0
    assert applied("lower-float-stuck").lower.volume_m3 == 0
    # 1 L/s and 20 mL/s, followed once a second at the latest.
    assert applied("lower-tank-floods").lower.volume_m3 == pytest.approx(
        sound.lower.volume_m3 + 0.005, rel=1e-6)
    lost = applied("tank-leaks", 20.0)
    assert 0.5 - lost.upper.volume_m3 == pytest.approx(4e-4, abs=2.5e-5)
    assert lost.lower.volume_m3 == sound.lower.volume_m3
    back = applied("main-siphons", 20.0)
    assert 0.5 - back.upper.volume_m3 == pytest.approx(4e-4, abs=2.5e-5)
    assert back.lower.volume_m3 - sound.lower.volume_m3 == pytest.approx(
        0.5 - back.upper.volume_m3)


def test_a_pump_that_runs_keeps_the_siphon_from_running_back():
    one = applied("main-siphons", 20.0, sun=800.0, drive=(1, 0))
    assert one.upper.volume_m3 - 0.5 == pytest.approx(one.up.volume_m3)


def test_an_inflow_ends_with_the_tank_that_fell_dry():
    one = plant(steady(0.0), {**HALF, "lower.inflow_m3_s": 1e-4})
    run(one, 10.0)
    assert one.inflow_m3 == pytest.approx(1e-3)
    apply("lower-tank-dry", one, Wiring())
    run(one, 10.0)
    assert one.lower.volume_m3 == 0
    assert not one.lower_wet.up


def test_the_frost_of_the_catalogue_is_of_twelve_degrees_below():
    assert applied("frost").air_degC == -12.0


def test_faults_of_the_pump_do_what_they_say():
    def pumping(name):
        return applied(name, sun=800.0, drive=(1, 0)).up

    sound = applied("charger-dead", sun=800.0, drive=(1, 0), seconds=0.0).up
    assert sound.flow > 0
    for name in ("air-in-pump", "strainer-blocked", "foot-valve-stuck"):
        assert pumping(name).flow == 0 < pumping(name).pump_A
    assert pumping("air-in-pump").pump_A < pumping("strainer-blocked").pump_A
    assert pumping("rotor-stalled").ratio == 0
    assert pumping("pump-lead-open").pump_A == 0
    assert pumping("panel-lead-open").panel_A == 0
    # At any speed: what the motor draws beyond what its torque needs (rated: 0.63 A).
    stiff = pumping("bearing-stiff")
    needs_A = 0.63 * stiff.ratio * (0.4 * stiff.ratio + 0.6 * stiff.flow / 55e-6)
    assert stiff.pump_A - needs_A == pytest.approx(0.12 + 1.2, rel=1e-6)
    assert applied("charger-dead", 60.0, sun=800.0).up.charge_A < 1e-9
    assert applied("pump-switch-welded", sun=800.0).up.flow > 0
    assert applied("jacket-blocked").jacket_blocked
    assert applied("motor-sensor-loose").sensor_loose


def test_faults_of_the_way_down_do_what_they_say():
    def lit(name, seconds=5.0):
        return applied(name, seconds, drive=(0, 600)).down

    assert lit("load-lost").lamp_A == 0
    assert lit("load-lost").clamp_A > 0
    dark = lit("generator-lead-open")
    assert (dark.generator_V, dark.generator_A) == (0.0, 0.0)
    assert dark.flow > 0
    free = plant(steady(0.0), HALF)
    apply("clamp-lost", free, Wiring())
    free.command(0, 1000, 1, 0)
    run(free, 20.0)
    assert free.down.generator_V > 20.0
    assert free.down.clamp_A == 0
    assert lit("hand-valve-shut").flow == 0


@pytest.mark.parametrize(("name", "position"), [
    ("valve-stuck", 0.3), ("valve-slow", 0.3 + 4.0 / 48)])
def test_a_valve_that_is_stuck_or_slow_travels_as_it_says(name, position):
    # Twelve times its 4 s for its whole travel.
    one = run_to(plant(steady(0.0), HALF), 300)
    apply(name, one, Wiring())
    one.command(0, 1000)
    run(one, 4.0)
    assert one.down.position == pytest.approx(position)


def run_to(one, permille):
    one.command(0, permille)
    return run(one, 5.0)


@pytest.mark.parametrize("name", ["valve-creeps", "valve-drifts"])
def test_a_valve_that_creeps_opens_in_a_minute_whatever_the_board_wants(name):
    one = plant(steady(0.0), HALF)
    apply(name, one, Wiring())
    one.command(0, 0)
    run(one, 30.0)
    assert one.down.position == pytest.approx(0.5)
    run(one, 31.0)
    assert one.down.position == 1.0


def test_a_leaking_seat_passes_20_millilitres_of_the_shut_valve_and_no_open_one():
    one = plant(steady(0.0), HALF)
    apply("seat-leaks", one, Wiring())
    run(one, 1.0)
    # 20 mL/s through the seat alone; the nozzle of 45.9 mL/s stands behind it.
    assert one.down.flow == pytest.approx((20**-2 + 45.9**-2) ** -0.5 * 1e-6, rel=2e-3)
    sound = run_to(plant(steady(0.0), HALF), 500).down.flow
    assert run_to(one, 500).down.flow == pytest.approx(sound, rel=1e-3)
    opened = run_to(plant(steady(0.0), HALF), 500)
    apply("seat-leaks", opened, Wiring())
    run(opened, 1.0)
    assert opened.down.flow == pytest.approx(sound, rel=1e-3)


def test_a_way_down_is_idle_only_when_nothing_of_it_moves_or_leaks():
    def idle(**state):
        down = plant(steady(0.0), HALF).down
        for name, value in state.items():
            setattr(down, name, value)
        return down.idle()

    assert idle()
    for name in ("position", "wanted", "speed", "seat_s2_m5"):
        assert not idle(**{name: 0.5}), name


def test_a_lost_stop_contact_reads_open_and_stops_the_rig():
    one = applied("stop-pressed", sun=800.0, drive=(1, 500))
    assert one.stop_pressed
    assert one.up.pump_A == 0
    assert one.down.position == 0
