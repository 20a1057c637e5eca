# ruff: noqa: F821
# pyright: reportUndefinedVariable=false
"""Flow meters: pulses counted by a state machine of the PIO.

It counts on while the processor waits for the flash, and says its count over
and over into its queue, so that a reading needs no request and no memory.  The
names inside `_count_rises` are instructions of the PIO's assembler.
"""

from array import array

import rp2
from machine import Pin

from keeper.channels import INVALID, NO_ANSWER

# One look at the pin takes four instructions: 20 us.  Meters give well below
# 1000 pulses a second; shorter spikes are mostly not seen.
FREQUENCY_Hz = 200000
QUEUE = 4               # words that the queue holds (RP2040 data sheet, 3.2)
# After this many words the newest was said after the reading began.
FRESH = QUEUE + 1
# Looks at an empty queue before the machine is given up; a word comes every
# 20 us and a look takes 4 us or more (guess for the interpreter's speed).
LOOKS = 100
COUNT_MASK = 0xFFFF


@rp2.asm_pio()
def _count_rises():
    """Count rising edges downwards in x, from 0."""
    set(x, 0)  # pyright: ignore - an instruction, not the built-in
    wrap_target()
    label("low")
    mov(isr, x)
    push(noblock)
    jmp(pin, "rose")
    jmp("low")
    label("rose")
    jmp(x_dec, "high")
    label("high")
    mov(isr, x)
    push(noblock)
    jmp(pin, "high")
    wrap()


def _machine(number, pin):
    """Return a state machine that counts, with the program put in place."""
    return rp2.StateMachine(number, _count_rises, freq=FREQUENCY_Hz, jmp_pin=pin)


class PulseMeter:
    """One meter.  Attribute: faults, readings given up since the start [-]."""

    def __init__(self, number, gpio):
        """Take the number of a state machine and the GPIO of an open-collector meter."""
        self.faults = 0
        self.number = number
        self.pin = Pin(gpio, Pin.IN, Pin.PULL_UP)
        self.word = array("H", [0])
        self.is_silent = False
        self.machine = _machine(number, self.pin)
        self.machine.active(1)
        self.last = 0
        self.is_new = True       # nothing to compare a count with yet

    def read(self):
        """Return the pulses [-] since the reading before, or INVALID + NO_ANSWER.

        Allocates nothing; blocks for 0.1 ms, for less than 1 ms if the machine is silent.
        """
        if not self._newest():
            self.faults += 1
            self.is_silent = True
            return INVALID + NO_ANSWER
        count = self.word[0]
        pulses = 0 if self.is_new else (self.last - count) & COUNT_MASK
        self.is_new = False
        self.last = count
        return pulses

    def _newest(self):
        """Take words until the newest is fresh; return whether there was one."""
        machine = self.machine
        for _ in range(FRESH):
            looks = 0
            while not machine.rx_fifo():
                looks += 1
                if looks > LOOKS:
                    return False
            machine.get(self.word)
        return True

    def step(self):
        """Start a silent machine again, between scans; return whether there was need."""
        if not self.is_silent:
            return False
        self.is_silent = False
        self.machine.active(0)
        self.machine = _machine(self.number, self.pin)
        self.machine.active(1)
        self.is_new = True
        return True
