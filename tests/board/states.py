"""Brings the rig on an emulated board into each of its states, by wires and orders."""

from collections.abc import Callable

from forebay import rig as rigs
from forebay.dispatch import sending
from forebay.wire.client import Board as Client
from keeper import modes
from keeper.operation import orders
from tests.board import clock
from tests.board.rig import EmulatedBoard
from tests.board.session import GPIO, MONITORS

# Waits of the rig made short: the states are what is looked at, not the waits.
# A keeper that remembers nothing takes the worst for true: the pump started as often
# as an hour allows, its motor hot, both sides locked until a person presses the button.
SOON = {
    "start_wait_s": 1, "pump_least_off_s": 1, "light_least_off_s": 1, "pump_least_on_s": 1,
    "trial_s": 5, "starts_per_hour": 120, "starts_most_milli": 120_000,
    "starts_again_milli": 119_999, "thermal_tau_s": 20,
}
# Registers 1 (2.5 uV a step over the wiring's shunts) and 2 (1.25 mV a step).
PANEL_30_V_2_A = {1: 8000, 2: 24000}
PUMP_1_A = {1: 6400}
GENERATOR_12_V_100_mA = {1: 8000, 2: 9600}
LAMP_100_mA = {1: 8000}
LAMP_3_V_50_mA = {1: 4000, 2: 2400}
FLOW_UP_HZ, FLOW_DOWN_HZ = 23, 9  # 50 and 20 mL/s by 2.2 mL a pulse
STEP_MS, PATIENCE_MS = 500, 30_000
COOL_MS, PRESS_MS = 10_000, 6000  # as SOON has it; a long press and a second
PRESSES = 12  # the slowest element that trips a rig at rest has 154 s
SETPOINT_MW, LEAST_SETPOINT_MW = 600, 150


def noon(board: EmulatedBoard) -> None:
    """Lets the sun shine until the pump has been started; current before that would weld it."""
    board.device(MONITORS["panel"], PANEL_30_V_2_A)
    wait_state(board, modes.TRIAL)
    board.device(MONITORS["pump"], PUMP_1_A)


def water(board: EmulatedBoard) -> None:
    """Lets the pump lift some."""
    board.pulses(GPIO["flow_up"], FLOW_UP_HZ)


def light(board: EmulatedBoard) -> None:
    """Lets the generator turn and its lamps burn."""
    board.device(MONITORS["generator"], GENERATOR_12_V_100_mA)
    board.device(MONITORS["lamp"], LAMP_100_mA)
    board.pulses(GPIO["flow_down"], FLOW_DOWN_HZ)


def rest(board: EmulatedBoard) -> None:
    """Lets everything stand in weak sun."""
    board.device(MONITORS["panel"], {1: 0, 2: 8000})
    for name in ("pump", "generator", "lamp"):
        board.device(MONITORS[name], {1: 0, 2: 0})
    for name in ("flow_up", "flow_down"):
        board.pulses(GPIO[name], 0)


def live(board: EmulatedBoard) -> dict[str, int]:
    """Returns the registers of the keeper on a board."""
    with clock.following(board), Client(board.serial_path) as client:
        return client.live()


def order(board: EmulatedBoard, code: int, a: int = 0, b: int = 0) -> sending.Outcome:
    """Sends an order to the keeper on a board."""
    with clock.following(board), Client(board.serial_path) as client:
        return sending.send(client, code, a, b)


def state_of(board: EmulatedBoard) -> int:
    """Returns the state of the keeper on a board, which is asked for nothing else."""
    with clock.following(board), Client(board.serial_path) as client:
        return client.values("state")["state"]


def wait_state(board: EmulatedBoard, state: int) -> None:
    """Lets board time pass until the rig is in a state."""
    for _ in range(PATIENCE_MS // STEP_MS):
        found = state_of(board)
        if found == state:
            return
        board.run_ms(STEP_MS)
    want, have = (modes.STATES[number][0] for number in (state, found))
    raise AssertionError(f"not {want} but {have}: {live(board)}")


def _maintain(board):
    assert order(board, orders.MAINTAIN, 1, 0).result == orders.DONE


def _end_maintenance(board):
    assert order(board, orders.MAINTAIN, 0, 0).result == orders.DONE
    wait_state(board, modes.STANDSTILL)


def _lit(board):
    rest(board)
    wait_state(board, modes.STANDSTILL)
    light(board)
    assert order(board, orders.LIGHT, SETPOINT_MW, 5).result == orders.DONE


def _dark(board):
    """The valve shuts within some scans: what a slow computer asks for later has missed it."""
    with clock.following(board), Client(board.serial_path) as client:
        assert sending.send(client, orders.RELEASE).result == orders.DONE
        return client.values("state")["state"]


def _draining(board):
    rest(board)
    wait_state(board, modes.STANDSTILL)
    assert order(board, orders.DRAIN_DOWN, 1, 0).result == orders.DONE


def _stop(board):
    assert order(board, orders.RELEASE).result == orders.DONE
    rest(board)
    wait_state(board, modes.STANDSTILL)


def _nothing(board):
    pass


# state, how to come there from the one before (it may tell the state that it saw), what
# follows the look
TOUR: tuple[tuple[int, Callable, Callable], ...] = (
    (modes.STANDSTILL, rest, _nothing),
    (modes.MAINTENANCE, _maintain, _end_maintenance),
    (modes.TRIAL, noon, _nothing),
    (modes.PUMPING, water, _nothing),
    (modes.RUNNING, _lit, _nothing),
    (modes.CLOSING, _dark, _nothing),
    (modes.DRAINING, _draining, _stop),
)


def _full(board):
    """The float of the upper tank lifts: that alone ends a pump that nothing else sees."""
    board.drive(GPIO["contact_71h_up"], None)


def _room(board):
    """There is room in the upper tank again."""
    board.drive(GPIO["contact_71h_up"], False)


def _lit_alone(board):
    _full(board)
    wait_state(board, modes.STANDSTILL)
    board.device(MONITORS["lamp"], LAMP_3_V_50_mA)
    assert order(board, orders.LIGHT, LEAST_SETPOINT_MW, 5).result == orders.DONE


def _unlit(board):
    board.device(MONITORS["lamp"], {1: 0, 2: 0})
    return _dark(board)


def _draining_alone(board):
    wait_state(board, modes.STANDSTILL)
    assert order(board, orders.DRAIN_DOWN, 1, 0).result == orders.DONE


def _stop_alone(board):
    assert order(board, orders.RELEASE).result == orders.DONE
    wait_state(board, modes.STANDSTILL)


# Likewise for the rig of the fewest instruments.
TOUR_OF_LESS: tuple[tuple[int, Callable, Callable], ...] = (
    (modes.STANDSTILL, _full, _nothing),
    (modes.MAINTENANCE, _maintain, _end_maintenance),
    (modes.TRIAL, _room, _nothing),
    (modes.PUMPING, _nothing, _nothing),
    (modes.RUNNING, _lit_alone, _nothing),
    (modes.CLOSING, _unlit, _nothing),
    (modes.DRAINING, _draining_alone, _stop_alone),
)
TOURS: dict[str, tuple] = dict(zip(rigs.DEMOS, ((rest, TOUR), (_full, TOUR_OF_LESS)), strict=True))


def unlock(board: EmulatedBoard) -> None:
    """Presses the button for long, once the motor counts as cool.

    Again, until every element that trips a rig at rest has had its delay.
    """
    for _ in range(PRESSES):
        board.run_ms(COOL_MS)
        board.drive(GPIO["button"], False)
        board.run_ms(PRESS_MS)
        board.drive(GPIO["button"], None)
        board.run_ms(STEP_MS)
        if live(board)["lockouts"] == 0:
            return
    raise AssertionError(f"still locked out: {live(board)}")


def tour(board: EmulatedBoard, look: Callable[[int], None], demo: str = rigs.DEMOS[0]) -> None:
    """Goes through every state; `look` is called in each with its number."""
    begin, stages = TOURS[demo]
    begin(board)
    unlock(board)
    for state, come, leave in stages:
        if come(board) != state:
            wait_state(board, state)
        look(state)
        leave(board)
