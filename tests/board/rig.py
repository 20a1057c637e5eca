"""A test rig with an emulated RP2040: the firmware on a real interpreter, with its flash.

What it needs is not part of this repository and is named by three variables
of the environment; without them its tests report 'not run':

    FOREBAY_BOARD_IMAGE    flash image of MicroPython 1.29 for the Pico, .bin or .uf2
    FOREBAY_BOARD_ELF      the ELF file of the same build, for its symbols
    FOREBAY_BOARD_BOOTROM  the RP2040's boot ROM, 16 KiB as they are in the chip

    FOREBAY_BOARD_IMAGE=... FOREBAY_BOARD_ELF=... FOREBAY_BOARD_BOOTROM=... \\
        python3 tests/run.py -v tests/board

Real: interpreter, byte code, 32-bit floats, heap, littlefs in flash, USB
stack, watchdog, PIO. Modelled: erase and program times, a power cut inside
either, wires, resistors of the pads, converters, I2C registers. Not modelled:
misses of the flash cache, so the chip itself is somewhat slower; the radio.
Board time runs at most as fast as the wall clock, except in `run_ms`; programs
at its port wait by it (tests/board/clock.py).
"""

import contextlib
import json
import os
import pathlib
import tempfile
from collections.abc import Mapping, Sequence
from typing import Any

from tests.board import image
from tests.board.emulator import COMMAND_PATIENCE_S, Emulator, RigError
from tests.board.line import SerialLine
from tests.tools import npm

# Read at import: the tests' own fixtures clear the project's variables later.
NEEDED = {name: os.environ.get(f"FOREBAY_BOARD_{name}", "")
          for name in ("IMAGE", "ELF", "BOOTROM")}
NOT_RUN = "not run: no interpreter image"

HEAP_START, HEAP_END = "__GcHeapStart", "__GcHeapEnd"  # ports/rp2/main.c
RUN_PATIENCE_S_PER_MS = 0.02  # twenty times slower than real time is a hang


def missing() -> str:
    """Returns why the rig cannot be used, empty if it can."""
    return "" if all(NEEDED.values()) else NOT_RUN


class EmulatedBoard:
    """One board, powered from the start of the `with` block to its end.

    Attributes: held (board time stands still); resets; faults.
    """

    def __init__(
        self,
        files: Mapping[str, bytes | str],
        *,
        flash: bytes | None = None,
        held: bool = False,
        powered: bool = True,
        sector_ms: float = image.SECTOR_MS,
        page_ms: float = image.PAGE_MS,
        watched: Sequence[str] = (),
    ):
        """files: absolute path on the board -> contents.

        flash: start from this instead, a flash as `flash` returned it.
        held: board time stands still except inside `run_ms` and `wait_pin`.
        powered: switch it on at once. sector_ms, page_ms: times of the flash [ms].
        watched: functions of the interpreter whose calls `marks` tells.
        """
        self._files = {
            path: data.encode() if isinstance(data, str) else data for path, data in files.items()
        }
        self._flash = flash
        self.held = held
        self._powered = powered
        self._watched = watched
        self._times = {"sector_ms": sector_ms, "page_ms": page_ms}
        self._cleanup = contextlib.ExitStack()
        self.faults: list[str] = []
        self.resets = 0

    def __enter__(self) -> "EmulatedBoard":
        self._folder = pathlib.Path(
            self._cleanup.enter_context(tempfile.TemporaryDirectory(prefix="board-"))
        )
        try:
            self._begin()
        except BaseException:
            self._cleanup.close()
            raise
        return self

    def _begin(self) -> None:
        flash = self._folder / "flash.bin"
        program = image.interpreter(pathlib.Path(NEEDED["IMAGE"]))
        flash.write_bytes(self._flash or image.compose(program, self._files))
        elf = image.Elf(pathlib.Path(NEEDED["ELF"]))
        job = {
            "rp2040js": str(npm.package_path("rp2040js") / "dist" / "esm" / "index.js"),
            "bootrom": NEEDED["BOOTROM"],
            "flash": str(flash),
            "flash_bytes": image.FLASH_BYTES,
            "traps": {
                "erase": elf.function("flash_range_erase"),
                "program": elf.function("flash_range_program"),
            },
            "watched": {name: elf.function(name) for name in self._watched},
            "heap": {"start": elf.symbols[HEAP_START], "end": elf.symbols[HEAP_END]},
            **self._times,
        }
        described = self._folder / "job.json"
        described.write_text(json.dumps(job))
        self._line = SerialLine(self._typed)
        self._cleanup.callback(self._line.close)
        self._emulator = Emulator(described, self._event)
        self._cleanup.callback(self._emulator.close)
        if not self.held:
            self.release()
        if self._powered:
            self.power_on()

    def __exit__(self, *_: object) -> None:
        self._cleanup.close()

    # ---- the serial port

    @property
    def serial_path(self) -> str:
        """Path of its USB serial port, the same through resets and power cuts."""
        return self._line.path

    def _typed(self, data: bytes) -> None:
        with contextlib.suppress(RigError):
            self._call("serial", data=data.hex())

    def open_port(self, yes: bool = True) -> None:
        """Tells the board whether a program has its port open; it has from the start."""
        self._call("open", yes=yes)

    # ---- power and time

    def power_on(self) -> None:
        """Switches the power on; the board starts from what its flash holds."""
        self._call("on")

    def power_off(self) -> None:
        """Takes the power away now, whatever the board does."""
        self._call("off")

    def cut_power(self, operations: int = 1, fraction: float = 0.5) -> None:
        """Takes the power away inside a flash operation.

        operations: which one from now, 1 = the next. fraction: the part of it
        that is done [0 to 1]; a sector half erased then holds any bits.
        """
        self._call("cut", operations=operations, fraction=fraction)

    def keep_power(self) -> None:
        """Takes back a power cut that has not come yet."""
        self._call("cut", operations=None, fraction=0)

    def hold(self) -> None:
        """Stops board time."""
        self.held = True
        self._call("hold")

    def release(self) -> None:
        """Lets board time pass, at most as fast as the wall clock."""
        self.held = False
        self._call("release")

    def run_ms(self, ms: float) -> bool:
        """Lets so much board time pass [ms], as fast as it can; returns if it still has power."""
        return self._run(ms, None, "")["powered"]

    def wait_pin(self, pin: int, level: str, ms: float) -> bool:
        """Runs until a pin has a level, at most so long [ms]; returns whether it has."""
        return self._run(ms, pin, level)["reached"]

    def _run(self, ms: float, pin: int | None, level: str) -> dict[str, Any]:
        patience = COMMAND_PATIENCE_S + ms * RUN_PATIENCE_S_PER_MS
        return self._call("run", patience, ms=ms, pin=pin, level=level)

    def clock_ms(self) -> float:
        """Returns board time [ms], and the wall's where the board had none or stood still."""
        return self._call("clock")["ms"]

    def state(self) -> dict[str, Any]:
        """Returns what the rig counts.

        ms (board time since the rig began), powered, ready (USB is up), unsent
        (bytes not yet taken by the board), and since `clear`: erased [sectors],
        programmed [pages], operations, stalledNs, starts.
        """
        return self._call("state")

    # ---- wires

    def pin(self, pin: int) -> str:
        """Returns what a pin is: high, low (driven by the board), input, pull-up,
        pull-down, keeper, or off without power."""
        return self._call("pin", pin=pin)["level"]

    def drive(self, pin: int, level: bool | None) -> None:
        """Puts a level on an input from outside; None takes the wire off."""
        self._call("drive", pin=pin, level=level)

    def adc(self, channel: int, value: int) -> None:
        """Sets what a converter channel reads [0 to 4095]; channel 0 is GPIO 26."""
        self._call("adc", channel=channel, value=value)

    def valve(self, wires: Mapping[str, int], travel_ms: float, ends: tuple[int, int]) -> None:
        """Puts a valve on a motor at its shut end, with a position sensor.

        wires: the pins that drive it, `opens` and `shuts`, and the converter's `channel`.
        ends: what the converter reads of it shut and open [0 to 4095].
        """
        self._call("valve", wires=dict(wires), travel_ms=travel_ms, ends=list(ends))

    def device(self, address: int, registers: Mapping[int, int] | None, bus: int = 0) -> None:
        """Sets 16-bit registers of a device on I2C; None takes the device off the bus."""
        self._call("device", bus=bus, address=address, registers=registers)

    def registers(self, address: int, bus: int = 0) -> dict[int, int]:
        """Returns the registers of a device on I2C, with what the board wrote."""
        found = self._call("registers", bus=bus, address=address)["registers"]
        return {int(register): value for register, value in found.items()}

    def uart_send(self, data: bytes, number: int = 0) -> None:
        """Sends bytes to a UART of the board, at the speed that it has set."""
        self._call("uartSend", number=number, data=data.hex())

    def uart_sent(self, number: int = 0) -> list[tuple[float, int]]:
        """Returns (board time [ms] at its end, byte) of what a UART sent since the last call."""
        return [(at, byte) for at, byte in self._call("uartSent", number=number)["sent"]]

    def pulses(self, pin: int, hz: float) -> None:
        """Lets a meter on a pin turn: a square wave [Hz], 0 = it stands still."""
        self._call("pulses", pin=pin, hz=hz)

    def rises(self, pin: int) -> int:
        """Returns the rising edges that a meter has given since the rig began."""
        return self._call("rises", pin=pin)["rises"]

    def thermometer(
        self, pin: int, serial: bytes, degC: float | None, *, broken: bool = False
    ) -> None:
        """Puts a DS18B20 with six bytes of serial number on a 1-Wire pin; None takes it off.

        broken: its checksums do not fit.
        """
        raw = None if degC is None else round(degC * 16)  # 1/16 K a step
        self._call("thermometer", pin=pin, serial=serial.hex(), raw=raw, broken=broken)

    def history(self, pin: int) -> list[tuple[float, str]]:
        """Returns (board time [ms], level) of every change of a pin since `clear`.

        Levels as in `pin`; "reset" and "off" mark where the chip let go.
        """
        return [(at, level) for at, level in self._call("history", pin=pin)["changes"]]

    def clear(self) -> None:
        """Forgets histories and counts."""
        self._call("clear")

    # ---- the interpreter, from outside: the program that runs loses no time by it

    def marks(self) -> list[list[Any]]:
        """Returns [board time [ms], function, "in" or "out"] since the last call, in order.

        Of functions named gc_... also the heap's free bytes and largest free run [B].
        """
        return self._call("marks")["marks"]

    def heap(self) -> tuple[int, int]:
        """Returns the heap's free bytes and its largest free run [B], garbage not counted."""
        free, largest = self._call("heap")["heap"]
        return free, largest

    # ---- flash

    def flash(self) -> bytes:
        """Returns the whole flash as it is now [2 MiB]."""
        path = self._folder / "now.bin"
        self._call("flash", path=str(path))
        return path.read_bytes()

    def files(self) -> dict[str, bytes]:
        """Returns the files in flash as they would be found after a power cut now."""
        return image.read_storage(self.flash())

    def steps(self) -> list[list[Any]]:
        """Returns what was done to the flash since the last call: see tests/board/steps.py."""
        return self._call("steps")["steps"]

    def _call(self, verb: str, patience_s: float = COMMAND_PATIENCE_S, **values: Any) -> dict:
        return self._emulator.call(verb, patience_s, **values)

    def _event(self, message: dict[str, Any]) -> None:
        if message["event"] == "serial":
            self._line.send(bytes.fromhex(message["data"]))
        elif message["event"] == "reset":
            self.resets += 1
        elif message["event"] == "fault":
            self.faults.append(message["text"])
