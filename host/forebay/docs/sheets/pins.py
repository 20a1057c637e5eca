"""The pins: the board's table in the firmware, and its page."""

from typing import Any

from forebay.docs.schematic.layout import is_rail
from forebay.docs.sheets import text
from forebay.hardware import tables as circuits
from forebay.hardware.netlist import quantity
from keeper.boards import lamp
from keeper.clock import PERIODS_PER_S

_TABLE_HEAD = '''\
"""Which GPIO of the board does what, for every variant of it.

Drawn from hardware/pins.toml by `python -m forebay.docs.hardware`: do not edit.
`kind` is out, pwm, in, pulse, adc, i2c, one_wire or uart; `pull` is the chip's
own resistor, "up" or "none".  What a pin is for, for people: hardware/pins.md.
"""

'''
_TABLE_FOOT = '''
P_NAME, P_GPIO, P_KIND, P_PULL = range(4)


def gpio(name):
    """Return the GPIO number of a pin by its name; KeyError if there is none."""
    for row in PINS:
        if row[P_NAME] == name:
            return row[P_GPIO]
    raise KeyError(name)


def outputs():
    """Return the rows of all pins that drive something, for whoever makes them safe."""
    return [row for row in PINS if row[P_KIND] in ("out", "pwm")]
'''
_HEAD = """\
# Pins

{drawn}

One map for the Pico, the Pico 2 and the Pico 2 W; which to take is in
[parts.md](parts.md). GP23, 24, 25 and 29 belong to the radio where there is
one, so nothing of the rig uses them. All
contacts go to ground against a pull-up: the first steppings of the Pico 2's
chip latch an input that is pulled *down* (read on a page of measurements; not
tried here).

**A pin that floats must switch nothing.** From power-on, a watchdog or a reset
until `boot.py` runs, every pin is an input with the chip's weak pull-down, and
nothing may rely on that: each gate and each driver input has a resistor of its
own to ground. With {pull_down} against the chip's strongest pull-up
({weak}, from memory) a gate stays at {gate:.2f} V, below what switches any
driver of [parts.md](parts.md); a test works it out.

**A soft reset leaves output levels as they were** (read in the interpreter's
source: `machine_pin.c`, `main.c`): a pump that runs, runs on until `boot.py`
has driven its pin low. `boot.py` therefore begins with the pins of kind *out*
and *pwm*, level before direction.
"""


def table(tables: dict[str, Any]) -> str:
    """The text of keeper/boards/pins.py."""
    rows = [
        f'    ("{pin["name"]}", {pin["gpio"]}, "{pin["kind"]}", "{pin["pull"]}"),\n'
        for pin in tables["pin"]
    ]
    return f"{_TABLE_HEAD}PINS = (\n{''.join(rows)})\n{_TABLE_FOOT}"


def page(tables: dict[str, Any]) -> str:
    """The page on the pins."""
    chip, rail = tables["chip"], quantity(tables["board"]["rail_voltage"])
    weak = quantity(chip["weak_pull_lowest"])
    down = quantity("10 kohm")
    head = _HEAD.format(
        drawn=text.DRAWN.format("pins"),
        pull_down="10 kohm",
        weak=chip["weak_pull_lowest"],
        gate=rail * down / (down + weak),
    )
    heads = ("GPIO", "name", "kind", "pull", "beside it", "what")
    rows = [
        (p["gpio"], f"`{p['name']}`", p["kind"], p["pull"], beside(p["gpio"]), p["text"])
        for p in tables["pin"]
    ]
    levels = [(f"`{p['name']}`", p["rest"], p["reset"]) for p in tables["pin"]]
    free = [text.item(f"GP{row['gpio']}: {row['text']}") for row in tables["free"]]
    return "\n".join(
        [
            head,
            "## What hangs where\n",
            text.table(heads, rows),
            "## Levels\n",
            text.table(("name", "at rest", "in reset"), levels),
            "## While flash is written\n",
            text.table(("kind", "what it does meanwhile"), tables["stall"].items()),
            "## Not used\n",
            "".join(free),
            "## The board's own light\n",
            light(),
            "## The valve's pulses\n",
            _slices(tables),
        ]
    )


def light() -> str:
    """What the board's own light says, as a table."""
    period_s = lamp.CYCLE_PERIODS / PERIODS_PER_S
    rows = [
        ("on without a break", "a start is under way"),
        (f"{_blinks(lamp.WELL)} every {period_s:.0f} s", "the keeper runs and keeps its journal"),
        (f"{_blinks(lamp.NO_JOURNAL)} every {period_s:.0f} s",
         "the rig is protected and lit, but no journal is kept"),
        (f"{_blinks(lamp.STANDS_SAFE)} every {period_s:.0f} s",
         "safe mode: everything stands"),
        ("dark", "no program runs: all outputs are low; or the board is a Pico 2 W, whose light"
         " hangs on its radio"),
    ]
    return text.table(("GP25", "says"), rows) + "\n" + text.paragraph(
        "`forebay watch` says the same with its reason. The light protects nothing.")


def _blinks(count: int) -> str:
    return ("one blink", "two blinks", "three blinks")[count - 1]


def _slices(tables: dict[str, Any]) -> str:
    chip = tables["chip"]
    pwm = next(pin for pin in tables["pin"] if pin["kind"] == "pwm")
    number_of = pwm_slice(pwm["gpio"], chip["pwm_slices"])
    others = [p for p in tables["pin"] if p is not pwm]
    sharing = [p for p in others if pwm_slice(p["gpio"], chip["pwm_slices"]) == number_of]
    names = ", ".join(f"GP{p['gpio']} ({p['kind']})" for p in sharing)
    stops = ", ".join(str(n) for n in chip["pwm_slices_soft_reset_stops"])
    return text.paragraph(
        f"`{pwm['name']}` is on slice {number_of}; one slice has one frequency, so no other pin "
        f"of that slice may be a PWM: {names} are not. A soft reset stops slices {stops} only "
        "(a reading of the interpreter's source, `machine_pwm.c`): a servo there would freeze at "
        f"whatever level its pin had, on slice {number_of} it keeps its last pulse and holds its "
        "place until `boot.py` takes the pin. After `deinit()` a pin is still the slice's: it "
        "must be made a plain output, low. The servo's rail is switched on only once the pulse "
        "is right (from memory: a servo jumps at its first pulse). A valve with a motor uses "
        "`valve_open` and `valve_close` instead, never both at once: its bridge must shut off "
        "when both are high."
    )


def pwm_slice(gpio: int, slices: int) -> int:
    """PWM slice of a GPIO below 32: pairs of pins, counted round.

    Source: RP2040 and RP2350 data sheets, PWM channel to GPIO mapping.
    """
    return gpio // 2 % slices


def beside(gpio: int) -> str:
    """What stands beside a pin, by the circuits in which it may be: resistors and capacitors."""
    found: dict[str, None] = {}
    for sheet in circuits.sheets().values():
        for block in sheet["circuit"]:
            found.update(dict.fromkeys(_passive(block, f"GP{gpio}", set())))
    return "; ".join(found)


def _passive(block: dict[str, Any], net: str, seen: set[str]) -> list[str]:
    """Resistors and capacitors on a net of a circuit, and those behind its resistors."""
    found = []
    for name, part in block["part"].items():
        if part["kind"] not in ("resistor", "capacitor") or net not in part["pins"].values():
            continue
        other = next(one for one in part["pins"].values() if one != net)
        if name in seen:
            continue
        seen.add(name)
        value = part.get("value", "the rig's")
        if is_rail(other) or part["kind"] == "capacitor":
            found.append(f"{value} to {other}")
        else:
            behind = [one for one in _passive(block, other, seen) if part["kind"] == "resistor"]
            found.append(f"{value} to {other}" + (f" ({', '.join(behind)})" if behind else ""))
    return found
