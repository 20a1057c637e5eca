"""What each fault of the catalogue does to the plant."""

import pytest

from forebay.twin.effects import apply, cloud_from
from forebay.twin.leads import Leads
from tests.twin.ledger import plant
from tests.twin.rigs import HALF, run, steady


@pytest.mark.parametrize(("seconds", "irradiance"), [
    (0, 1000), (59, 1000), (61, 575), (62.5, 150), (180, 150), (183, 575), (185, 1000),
    (243, 1000), (244.5, None), (1000, None)])
def test_a_cloud_is_full_sun_an_edge_of_two_seconds_shade_and_an_edge_again(seconds, irradiance):
    # 60 s of 1000 W/m2, 2 s down to 150, 120 s of it, 2 s up, 60 s of 1000.
    assert cloud_from(100.0)(100.0 + seconds) == irradiance


def test_a_cloud_replaces_the_day_at_once_in_every_scan_and_then_leaves():
    one = run(plant(steady(300.0, cell_degC=25.0), HALF), 10.05)
    light_1000 = one.up.light / 0.3
    apply("cloud-edge", one, Leads())
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
    apply(name, one, Leads())
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
    apply("lower-tank-dry", one, Leads())
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
    # "A third of the flow": to a twentieth of it.
    third = pytest.approx(sound.flow / 3, abs=sound.flow / 20)
    assert pumping("strainer-half-clogged").flow == third
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
    apply("clamp-lost", free, Leads())
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
    apply(name, one, Leads())
    one.command(0, 1000)
    run(one, 4.0)
    assert one.down.position == pytest.approx(position)


def run_to(one, permille):
    one.command(0, permille)
    return run(one, 5.0)


@pytest.mark.parametrize("name", ["valve-creeps", "valve-drifts"])
def test_a_valve_that_creeps_opens_in_a_minute_whatever_the_board_wants(name):
    one = plant(steady(0.0), HALF)
    apply(name, one, Leads())
    one.command(0, 0)
    run(one, 30.0)
    assert one.down.position == pytest.approx(0.5)
    run(one, 31.0)
    assert one.down.position == 1.0


def test_a_leaking_seat_passes_20_millilitres_of_the_shut_valve_and_no_open_one():
    one = plant(steady(0.0), HALF)
    apply("seat-leaks", one, Leads())
    run(one, 1.0)
    # 20 mL/s through the seat alone; the nozzle of 45.9 mL/s stands behind it.
    assert one.down.flow == pytest.approx((20**-2 + 45.9**-2) ** -0.5 * 1e-6, rel=2e-3)
    sound = run_to(plant(steady(0.0), HALF), 500).down.flow
    assert run_to(one, 500).down.flow == pytest.approx(sound, rel=1e-3)
    opened = run_to(plant(steady(0.0), HALF), 500)
    apply("seat-leaks", opened, Leads())
    run(opened, 1.0)
    assert opened.down.flow == pytest.approx(sound, rel=1e-3)


def test_a_way_down_is_idle_only_when_nothing_of_it_moves_or_leaks():
    def idle(**state):
        down = plant(steady(0.0), HALF).down
        for name, value in state.items():
            setattr(down, name, value)
        return down.idle()

    assert idle()
    for name in ("position", "commanded", "speed", "seat_s2_m5"):
        assert not idle(**{name: 0.5}), name


def test_a_lost_stop_contact_reads_open_and_stops_the_rig():
    one = applied("stop-pressed", sun=800.0, drive=(1, 500))
    assert one.stop_pressed
    assert one.up.pump_A == 0
    assert one.down.position == 0
