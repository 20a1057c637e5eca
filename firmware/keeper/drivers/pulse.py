# ruff: noqa: F821
# pyright: reportUndefinedVariable=false
"""An output that is high for a time and then falls by itself: a state machine of the PIO.

A stall of the flash, an exception or a crash of the program lets nothing run on.
The names inside `_high_for` are instructions of the PIO's assembler.
"""

import rp2
from machine import Pin

# Ticks a millisecond; the slowest that the clock divider gives lies at 2.3 kHz
# (RP2040 and RP2350 data sheets).
TICKS_PER_MS = 10
FREQUENCY_Hz = TICKS_PER_MS * 1000
LOW = 0xE000             # "set(pins, 0)" in the machine's own code (RP2040 data sheet, 3.4.10)


@rp2.asm_pio(set_init=rp2.PIO.OUT_LOW)
def _high_for():
    """Take a number of ticks, be high for so long, and be low again."""
    wrap_target()
    pull(block)
    mov(x, osr)
    set(pins, 1)  # pyright: ignore - an instruction, not the built-in
    label("on")
    jmp(x_dec, "on")
    set(pins, 0)  # pyright: ignore - an instruction, not the built-in
    wrap()


class Pulse:
    """One output.  The longest that it stays high by itself is two pulses of a scan."""

    def __init__(self, number, gpio):
        """Take the number of a state machine and a GPIO, which is low from now on."""
        self.machine = rp2.StateMachine(number, _high_for, freq=FREQUENCY_Hz,
                                        set_base=Pin(gpio, Pin.OUT, value=0))
        self.machine.active(1)

    def put(self, ms):
        """Be high for a time [ms], after what still runs; allocates nothing.

        What finds a pulse waiting already is left out: it would grow without end.
        """
        if not self.machine.tx_fifo():
            self.machine.put(ms * TICKS_PER_MS)

    def stop(self):
        """Be low at once, and for good."""
        self.machine.active(0)
        self.machine.exec(LOW)
