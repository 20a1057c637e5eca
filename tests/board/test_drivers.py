"""The drivers on real pins: what hangs on the board arrives in the list of values."""

import json

import pytest

from keeper.boards import wiring
from tests.board.session import GPIO, MONITORS, MOTOR, WATER, fit, plain_files, prompt, said

PUMP_SHUNT_UOHM = wiring.defaults()[wiring.index("pump_shunt_uohm")]

FLOAT_71H, FLOW_UP, ONE_WIRE, PUMP = (
    GPIO[name] for name in ("contact_71h_up", "flow_up", "one_wire", "pump_switch")
)
# Two average readings and two conversions later everything has been read.
SETTLED_MS = 3500
READ_MOST_US = 5000
WRITE_MOST_US = 1000

MAKE = """
import gc, json, micropython, time
from keeper import channels
from keeper.boards import wiring
from keeper.boards.base import Board
from keeper.boards.kinds import PICO
entries = wiring.defaults()
def serial(name, data):
    for half, part in (("_serial_high", data[3:]), ("_serial_low", data[:3])):
        entries[wiring.index(name + half)] = part[0] | part[1] << 8 | part[2] << 16
serial("motor", MOTOR)
serial("water", WATER)
entries[wiring.index("temperature_stale_s")] = 3
board = Board(PICO, entries, time)
values = [0] * channels.READ
outputs = [0] * len(channels.OUTPUTS)
def scan():
    micropython.heap_lock()
    try:
        began = time.ticks_us()
        board.read(values)
        read = time.ticks_us()
        board.write(outputs)
        done = time.ticks_us()
    finally:
        micropython.heap_unlock()
    return time.ticks_diff(read, began), time.ticks_diff(done, read)
def pass_time(ms):
    worst = [0, 0]
    for _ in range(ms // 100):
        worst = [max(pair) for pair in zip(worst, scan())]
        for _ in range(20):
            board.slack(time.ticks_ms())
            time.sleep_ms(4)
    return worst
def show():
    named = {row[0]: values[place] for place, row in enumerate(channels.CHANNELS)
             if place < channels.READ}
    named["contacts"] = values[channels.C_71H_UP:channels.PULSES_UP]
    named["pulses"] = values[channels.PULSES_UP:channels.PULSES_DOWN + 1]
    print(json.dumps(named))
"""
MAKE = f"MOTOR, WATER = {MOTOR!r}, {WATER!r}" + MAKE


@pytest.fixture
def fitted(make_board):
    """A powered board at its prompt with everything fitted."""
    with make_board(plain_files()) as board:
        fit(board)
        yield board


def shown(repl) -> dict:
    return json.loads(said(repl, "show()"))


def test_every_sensor_arrives_in_its_place_and_unit(fitted):
    # Monitors of 2.5 uV and 1.25 mV a step; defaults of the wiring.
    fitted.device(MONITORS["panel"], {1: 3000, 2: 19000})
    fitted.adc(0, 1200)
    with prompt(fitted) as repl:
        said(repl, MAKE)
        said(repl, f"pass_time({SETTLED_MS})")
        values = shown(repl)

    assert values["panel_mV"] == 19000 * 5 // 4
    assert values["panel_mA"] == 3000 * 2500 // 10000
    assert values["supply_mV"] == 12800
    assert values["motor_mdegC"] == 21500
    assert values["water_mdegC"] == 12000
    # 1200 of 4095 steps of 3.3 V are 967 mV; 250 mV is 0 mm, 1 mV is 1 mm.
    assert values["level_mm"] == pytest.approx(717, abs=2)
    assert values["contacts"] == [1, 1, 1, 1, 0, 1, 1]


def test_reading_and_driving_allocate_nothing_and_keep_their_time(fitted, record_property):
    fitted.pulses(FLOW_UP, 100)
    with prompt(fitted) as repl:
        said(repl, MAKE)
        # A scan that allocated would raise MemoryError here.
        read_us, write_us = json.loads(said(repl, f"print(pass_time({SETTLED_MS}))"))

    record_property("measured", f"emulated board: read {read_us} us, write {write_us} us at most")
    assert read_us < READ_MOST_US
    assert write_us < WRITE_MOST_US


def test_the_meters_lose_no_pulse_and_invent_none(fitted):
    with prompt(fitted) as repl:
        said(repl, MAKE)
        said(repl, "pass_time(300)")
        said(repl, "total = 0")
        fitted.pulses(FLOW_UP, 90)
        said(repl, "for _ in range(10):\n scan()\n total += values[channels.PULSES_UP]\n"
             " time.sleep_ms(100)\n")
        fitted.pulses(FLOW_UP, 0)
        said(repl, "scan()\ntotal += values[channels.PULSES_UP]")
        counted = int(said(repl, "print(total)"))
        rises = fitted.rises(FLOW_UP)
        # A level that stays is no pulse.
        said(repl, "time.sleep_ms(50)\nscan()")
        assert int(said(repl, "print(values[channels.PULSES_UP])")) == 0

    assert counted == rises > 50


def test_a_contact_counts_only_when_it_stays(fitted):
    with prompt(fitted) as repl:
        said(repl, MAKE)
        said(repl, "pass_time(300)")
        assert shown(repl)["contacts"][0] == 1
        fitted.drive(FLOAT_71H, True)
        said(repl, "scan()")
        assert shown(repl)["contacts"][0] == 1
        said(repl, "pass_time(300)")
        assert shown(repl)["contacts"][0] == 0


def test_a_broken_checksum_and_a_missing_thermometer_are_no_temperature(fitted):
    with prompt(fitted) as repl:
        said(repl, MAKE)
        said(repl, f"pass_time({SETTLED_MS})")
        fitted.thermometer(ONE_WIRE, MOTOR, 21.5, broken=True)
        fitted.thermometer(ONE_WIRE, WATER, None)
        said(repl, "pass_time(6000)")
        values = shown(repl)
        invalid = int(said(repl, "print(channels.INVALID)"))
        damaged = int(said(repl, "print(channels.DAMAGED)"))
        no_answer = int(said(repl, "print(channels.NO_ANSWER)"))

    assert values["motor_mdegC"] == invalid + damaged
    assert values["water_mdegC"] == invalid + no_answer


def test_a_monitor_that_is_pulled_off_and_put_back_is_found_again(fitted):
    fitted.device(MONITORS["pump"], {1: 3200})
    with prompt(fitted) as repl:
        said(repl, MAKE)
        said(repl, "pass_time(1000)")
        assert shown(repl)["pump_mA"] == 3200 * 2500 // PUMP_SHUNT_UOHM
        fitted.device(MONITORS["pump"], None)
        said(repl, "pass_time(500)")
        assert shown(repl)["pump_mA"] < 0
        fitted.device(MONITORS["pump"], {0: 0x4127, 1: 1600, 2: 0})
        said(repl, "pass_time(1500)")
        values = shown(repl)

    assert values["pump_mA"] == 1600 * 2500 // PUMP_SHUNT_UOHM


def test_outputs_are_low_from_the_first_instant_and_safe_after_use(fitted):
    with prompt(fitted) as repl:
        said(repl, MAKE)
        said(repl, "outputs[0] = 1\nscan()")
        assert fitted.pin(PUMP) == "high"
        said(repl, "board.safe()")
        assert fitted.pin(PUMP) == "low"
        levels = [level for _, level in fitted.history(PUMP)]

    assert levels.index("low") < levels.index("high")


STALLED = """
from keeper.drivers.pulse import Pulse
import machine
pin = machine.Pin(GPIO)
def levels(pulse, ms):
    # The processor does nothing but look, as long as a stall of the flash.
    seen = bytearray(STALL_MS // LOOK_MS)
    micropython.heap_lock()
    pulse.put(ms)
    for place in range(len(seen)):
        seen[place] = pin.value()
        time.sleep_us(1000 * LOOK_MS)
    micropython.heap_unlock()
    return sum(seen) * LOOK_MS, seen[-1]
"""
STALL_MS, LOOK_MS = 1200, 5


@pytest.mark.parametrize("ms", [20, 100])
def test_a_pulse_of_the_valve_ends_while_the_processor_stands_still(fitted, ms):
    with prompt(fitted) as repl:
        said(repl, MAKE)
        said(repl, STALLED.replace("GPIO", str(GPIO["valve_open"])).replace(
            "STALL_MS", str(STALL_MS)).replace("LOOK_MS", str(LOOK_MS)))
        said(repl, f"pulse = Pulse(PICO.valve_machines[0], {GPIO['valve_open']})")
        high_ms, last = json.loads(said(repl, f"print(list(levels(pulse, {ms})))"))
        # A look more or less at either end, and what the looking itself takes.
        assert high_ms == pytest.approx(ms, abs=3 * LOOK_MS)
        assert last == 0
        said(repl, "pulse.put(100)\ntime.sleep_ms(20)")
        assert said(repl, "print(pin.value())").strip() == "1"
        said(repl, "pulse.stop()")
        assert said(repl, "print(pin.value())").strip() == "0"
