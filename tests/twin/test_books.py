"""The twin's books close, and its plant agrees with closed forms and with scipy."""

import math
import sqlite3

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from forebay.rehearse.options import plan
from forebay.rehearse.run import rehearse
from forebay.rig import load
from forebay.twin.plant import Plant
from keeper.boards.wiring import SERVO
from keeper.physics import gravity, water
from tests.twin.rigs import MINUTES, steady

DAY_S = 86400


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo's whole day and night, as `forebay rehearse` runs it."""
    return rehearse(plan(out=tmp_path_factory.mktemp("demo") / "out"))


def test_mass_closes_to_1e_9_and_energy_to_1e_6(demo):
    assert abs(demo.truth["mass_error_frac"]) < 1e-9
    assert abs(demo.truth["energy_error_frac"]) < 1e-6


def test_every_scan_of_the_day_is_executed_and_counted(demo):
    assert demo.truth["scans"] == DAY_S * 10 == demo.truth["scans_of_boot"]


# What the demo's board sums.  Making keeper and twin cheaper to run may not change a
# reading, a decision or a rounding; what is meant to is measured anew, with its reason here:
# - panel, lamp and supply are read in turn, as on a board: their powers of a scan are those
#   of up to two scans before, and a switching follows by as much;
# - battery and resting motor are followed once a second in the dark, no more in each scan;
# - the charger blocks where the panel stands below the battery: it used to lift current
#   up there for some seconds after each start of the pump in weak sun, from nothing;
# - the demo's pump is tried from 23.5 V on and no longer from 26: two more trials before the
#   sun is enough, and other seconds of waiting, move battery, pump and what follows by 1e-3;
# - seeds are mixed: the rig of seed 1 has other errors, flows by up to 4 %, powers by 1.5 %;
# - the governor rests within its band and the valve is driven by a motor of its own: light
#   and generator give 0.16 % less, the board takes 0.1 % more while that motor runs, and the
#   light lasts 19 s longer;
# - a valve that rests is looked at once a second: its motor takes 31 mJ less, no drop differs.
BOARD_TOTALS = {
    "panel_mJ": 385132990, "pump_mJ": 325483393, "supply_in_mJ": 28507185,
    "supply_out_mJ": 10556686, "generator_mJ": 16426169, "lamp_mJ": 16470990,
    "up_uL": 890388799, "down_uL": 920873241, "pump_ms": 13589200, "light_ms": 27508200,
}


def test_a_scan_that_is_cheaper_sums_the_same_to_the_last_digit(demo):
    assert demo.truth["totals"] == BOARD_TOTALS


def test_the_boards_totals_agree_with_the_truth_within_two_uncertainties(demo):
    totals, true_J, true_L = (demo.truth[key] for key in ("totals", "energy_J", "volume_L"))
    sensors = load().sensors
    power_frac = math.hypot(sensors.voltage_frac, sensors.current_frac)
    for name, true in (("panel_mJ", true_J["panel"]), ("pump_mJ", true_J["pump"]),
                       ("generator_mJ", true_J["generator"]), ("lamp_mJ", true_J["lamps"])):
        assert totals[name] / 1000 == pytest.approx(true, rel=2 * power_frac), name
    for name, true in (("up_uL", true_L["up"]), ("down_uL", true_L["down"])):
        assert totals[name] * 1e-6 == pytest.approx(true, rel=2 * sensors.flow_frac), name


def test_the_lift_of_the_demo_equals_the_sum_by_hand(demo):
    # 900 L go up (60 to 960 L). The cistern (1.3 m2, floor at -1.7 m) falls from
    # 1250/1300 m to 350/1300 m: its surface from -0.7385 m to -1.4308 m, mean
    # -1.0846 m. The hose ends at 10.06 m: mean lift 11.1446 m. Water of 12 degC
    # weighs 999.50 kg/m3 x 9.7991 m/s2 (38 deg, 300 m) = 9794.2 N/m3.
    # 0.9 m3 x 11.1446 m x 9794.2 N/m3 = 98.24 kJ.
    assert demo.truth["volume_L"]["up"] == pytest.approx(900, rel=1e-3)
    assert demo.truth["energy_J"]["lifted"] == pytest.approx(98240, rel=2e-3)


def test_the_demo_does_what_its_designer_expects(demo):
    # Independent sums of the demo's design: filled in 3 to 4 h of sun, about
    # 7.5 h of light at 0.6 W, the board takes about what the lamps get.
    balance = demo.review.balance
    assert 3.0 < balance.pump_h < 4.0
    assert 7.2 < balance.light_h < 8.0
    assert balance.trips == 0
    assert balance.energies["board_load"].value == pytest.approx(4.8 * 3600, rel=0.05)
    assert balance.energies["lamps"].value == pytest.approx(4.5 * 3600, rel=0.08)
    assert demo.truth["volume_L"]["spilled"] == 0


def test_what_was_pulled_is_what_the_board_holds(demo):
    with sqlite3.connect(next(demo.plan.out.glob("*.sqlite"))) as shelf:
        pulled = {f"{'dest'[stream]}{number:05}": data for stream, number, data in shelf.execute(
            "select stream, number, data from segments")}
    board = {path.name: path.read_bytes() for path in (demo.plan.out / "board").iterdir()}
    # A summary that is full with the day's last quarter of an hour may be packed while the
    # line is served; all else is written by then.
    longer = {name for name, data in board.items() if data != pulled[name]}
    assert board.keys() == pulled.keys()
    assert all(data.startswith(pulled[name]) for name, data in board.items())
    assert all(name.startswith("s") for name in longer)
    assert sum(map(len, pulled.values())) == demo.pulled.bytes
    assert demo.review.balance.rows == demo.truth["newest_row"]


def test_the_governor_keeps_the_setpoint_all_night(demo):
    series = demo.review.series
    lit = series.lamp_W > 0.3
    settled = series.lamp_W[np.flatnonzero(lit)[30:-3]]
    assert np.all(np.abs(settled / 0.6 - 1) < 0.05)


def _free_outlet():
    """The demo rig with a penstock that loses nothing and a valve that does not count."""
    return {**load().plant(), "penstock.length_m": 0.0, "penstock.minor_loss": 0.0,
            "valve.flow_coefficient_m3_h": 1e5, "upper.start_volume_m3": 0.96,
            "lower.start_volume_m3": 0.1, "board.valve_kind": SERVO}


def test_draining_takes_the_time_of_torricellis_closed_form():
    # t = (A / (Cv a)) sqrt(2/g) (sqrt(h1) - sqrt(h2)), h above the nozzle; Torricelli's
    # law, any hydraulics textbook.
    rig = _free_outlet()
    dark = ([0.0] * MINUTES, [10.0] * MINUTES, [10.0] * MINUTES)
    plant = Plant(rig, dark)
    plant.command(0, 1000, 0, 0)
    for _ in range(100):
        plant.step(0.1)
    high, begin = plant.upper.base_m + plant.upper.level_m, plant.time_s
    while plant.upper.level_m > 0.2:
        plant.step(0.1)
    low = plant.upper.base_m + plant.upper.level_m
    area = math.pi / 4 * rig["turbine.nozzle_diameter_m"] ** 2
    g = gravity.normal_m_s2(rig["site.latitude_deg"], rig["site.height_m"])
    expected_s = (1.0 / (rig["turbine.nozzle_coefficient"] * area) * math.sqrt(2 / g)
                  * (math.sqrt(high) - math.sqrt(low)))
    assert plant.time_s - begin == pytest.approx(expected_s, rel=2e-5)


def _flow_by_scipy(rig, light, dark, ideal, series, shunt, lift):
    """Returns the pump's flow [m3/s] solved apart from the twin: brentq, Colebrook by fluids."""
    from fluids.friction import friction_factor

    density = water.density_kg_m3(rig["site.water_temperature_degC"])
    nu = water.kinematic_viscosity_m2_s(rig["site.water_temperature_degC"])
    assert density > 0
    speed, rated = rig["pump.rated_speed_rad_s"], rig["pump.rated_flow_m3_s"]
    g = gravity.normal_m_s2(rig["site.latitude_deg"], rig["site.height_m"])
    amps_rated = rig["pump.rated_power_W"] / rig["pump.rated_voltage_V"]
    ke = (rig["pump.rated_voltage_V"] - rig["motor.resistance_ohm"] * amps_rated) / speed
    torque = ke * (amps_rated - rig["motor.no_load_current_A"])
    t0 = rig["pump.shut_off_torque_frac"] * torque
    inner = (rig["pump.shut_off_head_m"] - rig["pump.rated_head_m"]) / rated**2
    bore = rig["rising_main.diameter_m"]
    area = math.pi / 4 * bore**2

    def loss(flow):
        velocity = flow / area
        factor = friction_factor(velocity * bore / nu, rig["rising_main.roughness_m"] / bore)
        return ((factor * rig["rising_main.length_m"] / bore + rig["rising_main.minor_loss"])
                * velocity**2 / (2 * g))

    def flow_at(ratio):
        spare = rig["pump.shut_off_head_m"] * ratio**2 - lift
        if spare <= 0:
            return 0.0
        return brentq(lambda q: inner * q * q + loss(q) - spare, 1e-9, 1e-2)

    def excess(ratio):
        q = flow_at(ratio)
        amps = rig["motor.no_load_current_A"] + (
            t0 * ratio**2 + (torque - t0) / rated * ratio * q) / ke
        volts = ke * speed * ratio + rig["motor.resistance_ohm"] * amps
        junction = volts + amps * series
        return light - dark * math.expm1(junction / ideal) - junction / shunt - amps

    return flow_at(brentq(excess, 0.3, 1.8))


def test_filling_takes_the_time_that_scipy_finds_on_the_same_plant():
    rig = {**load().plant(), "upper.start_volume_m3": 0.3, "supply.charge_current_A": 0.0}
    plant = Plant(rig, steady(600.0))
    plant.command(1, 0, 0, 0)
    while plant.upper.volume_m3 < 0.5:
        plant.step(0.1)
    up = plant.up

    def rate(_, volume):
        lower = (rig["lower.start_volume_m3"] + rig["upper.start_volume_m3"] - volume[0]) / (
            rig["lower.length_m"] * rig["lower.width_m"])
        lift = rig["upper.inlet_height_m"] - rig["lower.base_height_m"] - lower
        return [_flow_by_scipy(rig, up.light, up.dark, up.ideal, up.series, up.shunt, lift)]

    def full(_, volume):
        return volume[0] - 0.5

    full.terminal = True
    found = solve_ivp(rate, (0, 20000), [0.3], events=full, rtol=1e-6, max_step=500)
    # fluids' default friction factor is Clamond's solution of Colebrook; the
    # board's explicit form stays within 2 % of it, and friction is 1 % of the lift.
    assert plant.time_s == pytest.approx(found.t_events[0][0], rel=2e-3)
