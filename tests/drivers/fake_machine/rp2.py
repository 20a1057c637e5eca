# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""The PIO: an assembler and state machines that execute its instructions.

Encodings after the RP2040 data sheet, section 3.4 "Instruction set"; only the
instructions that our programs use: JMP, PUSH, PULL, MOV, SET.  Registers are kept to
30 bits, so that the fake allocates nothing; programs may use the lower 16.
"""

from array import array

from machine import CHIP

MASK = 0x3FFFFFFF
QUEUE = 4
MEMORY_WORDS = 32


class Program:
    """Machine code of one program."""

    def __init__(self):
        self.words = []
        self.wrap_target = 0
        self.wrap = 0


PINS, X, Y, ISR, OSR, PIN = 0, 1, 2, 6, 7, "pin"
CONDITIONS = {"always": 0, "x_dec": 2, "y_dec": 4, "pin": 6}
SOURCES = {"pins": 0, "x": 1, "y": 2, "null": 3, "isr": 6, "osr": 7}


class Assembler:
    """Turns calls of instructions into words; labels are known from a first pass."""

    def __init__(self):
        self.labels = {}
        self.program = Program()

    def start(self):
        self.program.words = []

    def label(self, name):
        self.labels[name] = len(self.program.words)

    def wrap_target(self):
        self.program.wrap_target = len(self.program.words)

    def wrap(self):
        self.program.wrap = len(self.program.words) - 1

    def jmp(self, condition, target=None):
        if target is None:
            condition, target = "always", condition
        self.program.words.append(CONDITIONS[condition] << 5 | self.labels.get(target, 0))

    def push(self, block):
        self.program.words.append(0x8000 | (0 if block == "noblock" else 0x20))

    def pull(self, block):
        self.program.words.append(0x8080 | (0 if block == "noblock" else 0x20))

    def mov(self, target, source):
        self.program.words.append(0xA000 | SOURCES[target] << 5 | SOURCES[source])

    def set(self, target, data):
        self.program.words.append(0xE000 | SOURCES[target] << 5 | data)


def asm_pio(**options):
    """Returns the decorator that turns a function of instructions into a Program."""
    if options not in ({}, {"set_init": PIO.OUT_LOW}):
        raise ValueError("options of the assembler that the fake does not know")

    def assemble(function):
        assembler = Assembler()
        names = function.__globals__
        own = {}
        words = {"noblock": "noblock", "block": "block", "pins": "pins"}
        for name in ("x", "y", "isr", "osr", "pin", "x_dec", "y_dec", "null"):
            words[name] = name
        for name in ("label", "wrap_target", "wrap", "jmp", "push", "pull", "mov", "set"):
            words[name] = getattr(assembler, name)
        for name in words:
            if name in names:
                own[name] = names[name]
            names[name] = words[name]
        for _ in range(2):
            assembler.start()
            function()
        for name in words:
            if name in own:
                names[name] = own[name]
            else:
                del names[name]
        return assembler.program

    return assemble


class StateMachine:
    """One state machine; runs as long as the processor looks at it, and when told to."""

    # Instructions executed between two looks of the processor: 4 us at 200 kHz is
    # less than one; a few make the tests quick and keep words waiting.
    STEPS_A_LOOK = 2

    def __init__(self, number, program, freq=-1, jmp_pin=None, set_base=None):
        if freq <= 0 or (jmp_pin is None) == (set_base is None):
            raise ValueError("frequency and one pin wanted")
        memory = CHIP.pio_programs[number // 4]
        if program not in memory:
            if sum([len(other.words) for other in memory]) + len(program.words) > MEMORY_WORDS:
                raise OSError(12)  # ENOMEM
            memory.append(program)
        self.program = program
        self.code = array("H", program.words)
        self.line = (set_base if jmp_pin is None else jmp_pin).line  # pyright: ignore
        self.frequency = freq
        self.counter = 0
        self.x = self.isr = self.osr = 0
        self.sent = array("i", [0] * QUEUE)   # words that the program has yet to pull
        self.sent_first = self.sent_waiting = 0
        self.queue = array("i", [0] * QUEUE)
        self.first = self.waiting = 0
        self.on = False
        self.dead = False        # a test stops it for good
        CHIP.machines[number] = self

    def active(self, on):
        self.on = bool(on)

    def run(self, steps):
        """Executes instructions."""
        if self.on and not self.dead:
            for _ in range(steps):
                self._step()

    def _step(self):
        word = self.code[self.counter]
        at = self.counter
        self.counter = self.program.wrap_target if at == self.program.wrap else at + 1
        kind = word >> 13
        if kind == 0:
            if self._is_taken(word >> 5 & 7):
                self.counter = word & 31
        elif kind == 4 and word & 0x80:
            self._pull(at)
        elif kind == 4:
            self._push()
        elif kind == 5:
            if word >> 5 & 7 == ISR and word & 7 == X:
                self.isr = self.x
            elif word >> 5 & 7 == X and word & 7 == OSR:
                self.x = self.osr
            else:
                raise ValueError("MOV that the fake does not know")
        elif kind == 7:
            self._set(word)
        else:
            raise ValueError("instruction that the fake does not know")

    def _is_taken(self, condition):
        if condition == 0:
            return True
        if condition == 2:
            taken = self.x != 0
            self.x = (self.x - 1) & MASK
            return taken
        if condition == 6:
            return self.line.level() == 1
        raise ValueError("JMP that the fake does not know")

    def _set(self, word):
        if word >> 5 & 7 == X:
            self.x = word & 31
        elif word >> 5 & 7 == PINS:
            self.line.out = word & 1
        else:
            raise ValueError("SET that the fake does not know")

    def _pull(self, at):
        if not self.sent_waiting:  # "block": it waits where it is
            self.counter = at
            return
        self.osr = self.sent[self.sent_first]
        self.sent_first = (self.sent_first + 1) % QUEUE
        self.sent_waiting -= 1

    def tx_fifo(self):
        return self.sent_waiting

    def put(self, word):
        if self.sent_waiting == QUEUE:
            raise RuntimeError("the real one would wait here for ever")
        self.sent[(self.sent_first + self.sent_waiting) % QUEUE] = word & MASK
        self.sent_waiting += 1

    def exec(self, word):
        """Executes one instruction at once, on or off (RP2040 data sheet, 3.5.7)."""
        if word >> 13 != 7:
            raise ValueError("instruction that the fake does not know")
        self._set(word)

    def _push(self):
        if self.waiting < QUEUE:  # "noblock": a full queue drops the word
            self.queue[(self.first + self.waiting) % QUEUE] = self.isr
            self.waiting += 1
        self.isr = 0

    def rx_fifo(self):
        self.run(self.STEPS_A_LOOK)
        return self.waiting

    def get(self, buffer):
        if not self.waiting:
            raise RuntimeError("the real one would wait here for ever")
        buffer[0] = self.queue[self.first] & 0xFFFF
        self.first = (self.first + 1) % QUEUE
        self.waiting -= 1
        return buffer


class PIO:
    """One block of four state machines."""

    OUT_LOW = 2

    def __init__(self, number):
        self.number = number

    def remove_program(self, program=None):
        memory = CHIP.pio_programs[self.number]
        if program is None:
            memory.clear()
        else:
            memory.remove(program)
