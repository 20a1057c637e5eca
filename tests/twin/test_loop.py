"""The closed loop: who moves when, what a cut and a stall take away, what is carried out."""

import pytest

from forebay.twin.twin import Stalling
from keeper import channels as ch
from keeper.boards import wiring
from keeper.clock import TICKS_MASK
from keeper.retained_files import RetainedFiles
from tests.twin.ledger import plant
from tests.twin.rigs import HALF, PUMPING, RUNNING, run_until, steady, twin

SUN = steady(800.0)


def watched(one):
    """Notes what the keeper of a twin is asked, and the plant's time at that moment."""
    calls = []
    keeper = one.keeper
    scan, slack = keeper.scan, keeper.slack
    keeper.scan = lambda now_ms: (calls.append(("scan", now_ms, one.plant.time_s)), scan(now_ms))
    keeper.slack = lambda now_ms: (calls.append(("slack", now_ms, one.plant.time_s)),
                                   slack(now_ms))
    return calls


def test_in_each_period_the_plant_moves_then_the_keeper_scans_then_it_has_its_slack(tmp_path):
    one = twin(tmp_path, SUN, HALF)
    calls = watched(one)
    one.run(3)
    assert calls == [(name, 100 * n, pytest.approx(0.1 * n))
                     for n in (1, 2, 3) for name in ("scan", "slack")]
    assert (one.scans, one.periods) == (3, 3)


def test_the_clock_of_a_boot_begins_at_nought_and_wraps_as_ticks_do(tmp_path):
    one = twin(tmp_path, SUN, HALF)
    one.run(50)
    one.cut()
    one.run(6000)
    calls = watched(one)
    one.step()
    assert calls[0][1] == 100 * (one.periods - one.boot_period)
    assert calls[0][1] <= 200
    one.boot_period = one.periods + 1 - (TICKS_MASK + 1) // 100 - 1
    one.step()
    assert calls[2][1] == (100 * (one.periods - one.boot_period)) & TICKS_MASK < 200


def test_parts_of_a_step_add_up_to_it(tmp_path, monkeypatch):
    one = twin(tmp_path, SUN, HALF, substeps=4)
    steps = []
    step = one.plant.step
    monkeypatch.setattr(one.plant, "step", lambda dt_s: (steps.append(dt_s), step(dt_s)))
    one.run(2)
    assert steps == [0.025] * 8
    assert one.plant.time_s == pytest.approx(0.2)
    assert (one.scans, one.periods) == (2, 2)


def test_faults_come_at_their_times_in_their_order(tmp_path):
    one = twin(tmp_path, SUN, HALF,
               faults=((2.0, "tank-leaks"), (0.5, "pump-lead-open"), (3.0, "power-cut")))
    seen = {}
    for period in range(35):
        one.run(1)
        for name, now in (("lead", one.plant.pump_lead_open), ("leak", one.plant.leak_m3_s > 0),
                          ("cut", not one.powered)):
            if now:
                seen.setdefault(name, period)
    assert seen == {"lead": 5, "leak": 20, "cut": 30}


def test_what_the_keeper_drives_reaches_the_output_of_its_name(tmp_path):
    one = twin(tmp_path, SUN, HALF)
    outputs = [0] * len(ch.OUTPUTS)
    names = [row[0] for row in ch.OUTPUTS]

    def driven():
        one.board.write(outputs)
        down = one.plant.down
        return [one.plant.pump_commanded, down.drive.left_s, down.lamps_off, down.dump_on]

    for name, value, expected in (
            ("pump_switch", 1, [1, 0.0, 0, 0]), ("valve_drive_ms", -40, [0, -0.04, 0, 0]),
            ("valve_permille", 250, [0, 0.0, 0, 0]),
            ("lamps_off", 1, [0, 0.0, 1, 0]), ("dump_switch", 1, [0, 0.0, 0, 1])):
        outputs[names.index(name)] = value
        assert driven() == pytest.approx(expected)
        outputs[names.index(name)] = 0
    one.plant.command(1, 700, 1, 1, 100)
    one.board.safe()
    assert [one.plant.pump_commanded, one.plant.down.drive.left_s, one.plant.down.lamps_off,
            one.plant.down.dump_on] == [0, 0.0, 0, 0]


def test_a_servo_goes_where_the_board_tells_it(tmp_path):
    one = twin(tmp_path, SUN, {**HALF, "board.valve_kind": wiring.SERVO})
    outputs = [0] * len(ch.OUTPUTS)
    outputs[ch.OUT_VALVE] = 250
    one.board.write(outputs)
    assert one.plant.down.commanded == pytest.approx(0.25)
    one.board.safe()
    assert one.plant.down.commanded == 0.0


def test_lamps_and_dump_load_stay_as_they_are_if_nothing_is_said():
    one = plant(steady(0.0), HALF)
    one.command(0, 400)
    assert (one.down.lamps_off, one.down.dump_on) == (0, 0)


# Cuts --------------------------------------------------------------------------------------


def test_a_cut_lasts_ten_minutes_in_which_no_keeper_scans(tmp_path):
    one = twin(tmp_path, SUN, HALF)
    run_until(one, PUMPING, 200)
    scans, keeper = one.scans, one.keeper
    one.cut()
    assert not one.powered
    assert not one.plant.board_on
    one.run(5999)
    assert (one.scans, one.keeper, one.powered) == (scans, keeper, False)
    assert one.plant.up.pump_A == 0
    one.step()
    assert one.powered
    assert one.plant.board_on
    assert one.keeper is not keeper
    one.step()
    assert one.scans == scans + 1


def test_a_board_that_is_off_takes_nothing_from_the_battery(tmp_path):
    one = twin(tmp_path, steady(0.0), HALF)
    one.run(100)
    one.cut()
    one.run(20)                       # what was due before is followed within a second
    taken_J = one.plant.battery.board_J
    one.run(1000)
    assert one.plant.battery.board_J == taken_J


@pytest.mark.parametrize(("on_power_loss", "stays"), [("stays", True), ("closes", False)])
def test_a_cut_leaves_the_valve_where_it_is_or_a_spring_shuts_it(tmp_path, on_power_loss, stays):
    one = twin(tmp_path, steady(0.0), {**HALF, "valve.on_power_loss": on_power_loss})
    run_until(one, RUNNING, 400)
    one.run(100)
    position = one.plant.down.position
    assert position > 0
    one.cut()
    one.run(100)
    assert one.plant.down.position == (position if stays else 0.0)


def test_a_stop_that_is_pressed_holds_the_valve_shut_through_a_cut(tmp_path):
    one = twin(tmp_path, steady(0.0), HALF)
    run_until(one, RUNNING, 400)
    one.run(100)
    one.plant.press_stop(True)
    one.cut()
    one.run(100)
    assert one.plant.down.position == 0.0


def test_a_flat_battery_cuts_the_board_and_a_charged_one_starts_it_again(tmp_path):
    one = twin(tmp_path, steady(0.0), {**HALF, "supply.start_charge_frac": 1e-6})
    one.run(300)
    assert one.plant.battery.flat
    assert not one.powered
    assert not one.plant.board_on
    one.run(7000)                     # longer than a cut: it is the battery that counts
    assert not one.powered
    one.plant.battery.flat, one.plant.battery.charge_frac = False, 0.5
    one.run(9)
    assert not one.powered
    one.run(1)
    assert one.powered


# Stalls ------------------------------------------------------------------------------------


class Files:
    def __init__(self):
        self.seen = []

    def __getattr__(self, name):
        return lambda *arguments: self.seen.append((name, *arguments))


class Stalled:
    stall_periods = 3
    missed = stalls = 0


@pytest.mark.parametrize(("name", "stops"), [
    ("append", True), ("append_new", True), ("remove_oldest", True), ("save", True),
    ("read", False), ("load", False)])
def test_what_writes_stops_the_board_and_what_reads_does_not(name, stops):
    files, twin_of = Files(), Stalled()
    getattr(Stalling(files, twin_of), name)(1, 2)
    assert files.seen == [(name, 1, 2)]
    assert (twin_of.missed, twin_of.stalls) == ((3, 1) if stops else (0, 0))


def test_a_stall_takes_as_many_scans_as_it_lasts_and_the_meters_count_on(tmp_path):
    one = twin(tmp_path, SUN, HALF, stall_s=0.55)
    assert one.stall_periods == 5
    run_until(one, PUMPING, 200)
    while one.missed:
        one.step()
    scans, periods = one.scans, one.periods
    one.missed = 5
    part = one.sensors.part_up
    one.run(4)
    assert (one.scans, one.missed) == (scans, 1)
    assert one.sensors.part_up > part + 8      # 55 mL/s: 2.5 pulses a scan
    one.run(2)
    assert one.scans == scans + 1
    assert one.periods == periods + 6


def test_what_the_keeper_remembers_stops_the_board_while_it_is_written(tmp_path):
    stopped = []

    class Noted(RetainedFiles):
        def save(self, *arguments):
            stopped.append(one.missed)
            return super().save(*arguments)

    one = twin(tmp_path, SUN, HALF, stall_s=0.2, open_memory=lambda: Noted(str(tmp_path / "rig")))
    one.run(2500)                     # nothing was known: locked out, till a person resets
    for button, scans in ((1, 20), (0, 100)):
        one.board.button = button
        one.run(scans)
    assert stopped
    assert set(stopped) == {one.stall_periods}


def test_without_a_stall_nothing_is_missed(tmp_path):
    one = twin(tmp_path, SUN, HALF)
    one.run(1000)
    assert one.stalls == one.missed == 0
    assert one.scans == one.periods == 1000


def test_a_step_of_steady_light_solves_the_generators_node_once(monkeypatch):
    # Its mean speed is foreseen exactly while no load begins or ends: more is time lost.
    for lamps_off, dump, valve in ((0, 0, 600), (1, 0, 1000), (0, 1, 1000), (1, 1, 1000),
                                   (0, 0, 1000)):
        one = plant(steady(0.0), HALF)
        one.command(0, valve, lamps_off, dump)
        for _ in range(300):
            one.step(0.1)
        asked = []
        solve = one.down.drive_Nm
        monkeypatch.setattr(one.down, "drive_Nm", lambda speed, solve=solve, asked=asked: (
            asked.append(speed), solve(speed))[1])
        one.step(0.1)
        assert len(asked) == 1, (lamps_off, dump)
