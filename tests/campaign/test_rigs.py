"""Random rigs: each loads without a fault, and together they are as unlike as rigs are."""

import pytest

from tests.campaign import given, rigs

SEEDS = range(40)


@pytest.fixture(scope="module")
def drawn():
    return [rigs.drawn(seed)["rig"] for seed in SEEDS]


def test_a_seed_draws_the_same_rig_again_and_another_draws_another():
    assert rigs.drawn(5) == rigs.drawn(5) != rigs.drawn(6)


def test_what_is_drawn_loads_without_a_fault_as_somebodys_file_does(tmp_path):
    for seed in SEEDS:
        path = tmp_path / f"{seed}.toml"
        told = rigs.drawn(seed)
        path.write_text(told["toml"], encoding="utf-8")
        rig = rigs.rigs.load(path)
        assert rig.settings() == told["settings"]
        assert rig.plant().items() <= told["rig"].items()


@pytest.mark.parametrize(("key", "low", "high"), [
    # Heads of 1.5 to 40 m, travels of 4 to 60 s, drawn by their ratios: the ends are rare.
    ("upper.base_height_m", 2.5, 25.0), ("valve.travel_s", 6.0, 40.0),
    ("upper.overflow_volume_m3", 1.0, 3.0), ("panel.power_W", 50.0, 120.0),
    ("pump.rated_flow_m3_s", 6e-5, 1.5e-4), ("night.setpoint_W", 0.2, 1.5)])
def test_they_span_what_people_build(drawn, key, low, high):
    values = [rig[key] for rig in drawn]
    assert min(values) < low
    assert max(values) > high


@pytest.mark.parametrize(("key", "choices"), [
    ("upper.shape", 3), ("lower.shape", 3), ("pump.rated_voltage_V", 2),
    ("valve.characteristic", 2), ("valve.on_power_loss", 2), ("sensors.level", 2),
    ("sensors.water_temperature", 2), ("sensors.valve_position", 2)])
def test_all_kinds_of_tanks_valves_and_instruments_are_among_them(drawn, key, choices):
    assert len({rig[key] for rig in drawn}) == choices


def test_a_rig_stands_what_the_pump_of_it_can_do(drawn):
    # Water hammer of the rated flow stopped at once, by hand: rho a v, 1.4 MPa for 1 m/s.
    for rig in drawn:
        velocity = rig["pump.rated_flow_m3_s"] / (0.7854 * rig["rising_main.diameter_m"] ** 2)
        assert rig["stands.main_Pa"] > 1.4e6 * velocity
        assert rig["stands.main_Pa"] / given.PASCAL_PER_BAR in rigs.MAIN_CLASSES_bar
