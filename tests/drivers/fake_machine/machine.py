# pyright: reportMissingImports=false, reportMissingModuleSource=false
# pyright: reportAttributeAccessIssue=false
"""A chip to test drivers on: registers and lines instead of silicon.

Read by both interpreters, so it imports nothing and its reading paths allocate
nothing.  What a test sets from outside hangs on the one CHIP: levels of pins,
readings of analogue inputs, devices on the buses.  What a driver did is read
back from there: levels driven, pulse widths, bytes of a line.

After the interpreter's documentation of `machine` for the RP2; where a data
sheet's behaviour is imitated it is named.
"""


class Clock:
    """Time that only moves when told.  Ticks wrap as on the board."""

    MASK = 0x3FFFFFFF

    def __init__(self):
        self.us = 0
        self.slept_ms = 0
        self.on_sleep = None

    def advance_ms(self, ms):
        """Lets time pass."""
        self.us += ms * 1000

    def ticks_us(self):
        return self.us & self.MASK

    def ticks_ms(self):
        return self.us // 1000 & self.MASK

    def ticks_diff(self, later, earlier):
        return (later - earlier) & self.MASK

    def sleep_us(self, us):
        self.us += us

    def sleep_ms(self, ms):
        self.us += ms * 1000
        self.slept_ms += ms
        if self.on_sleep is not None:
            self.on_sleep()


class Line:
    """One GPIO: what drives it from either side."""

    def __init__(self, gpio):
        self.gpio = gpio
        self.mode = -1           # as after a reset: an input
        self.pull = -1
        self.out = 0             # level that the chip drives, if it does
        self.outside = -1        # level that the outside drives, -1 = nothing
        self.pwm = None
        self.history = []        # levels driven, while a test records
        self.records = False
        self.i2c_slave = None    # device whose state follows the levels

    def level(self):
        """Returns the level that the pin shows [0 or 1]."""
        if self.mode == Pin.OUT:
            return self.out
        if self.mode == Pin.OPEN_DRAIN and self.out == 0:
            return 0
        if self.outside >= 0:
            return self.outside
        return 1 if self.pull == Pin.PULL_UP or self.mode == Pin.OPEN_DRAIN else 0


class Chip:
    """Everything a test looks at, and what must be fresh for the next one."""

    GPIOS = 30

    def __init__(self):
        self.clock = Clock()
        self.lines = [Line(gpio) for gpio in range(self.GPIOS)]
        self.analog = [0] * self.GPIOS   # readings of 16 bits
        self.i2c_devices = {}    # address -> device
        self.i2c_stuck = 0       # clocks that free the bus, 0 = free
        self.i2c_opened = 0
        self.uarts = {}
        self.watchdog = None     # the WDT that was started
        self.resets = 0
        self.backup = [0xDEADBEEF, 0x12345678, 7, 0]   # rubbish, as after power came
        self.one_wire = []       # slaves
        self.one_wire_shorted = False
        self.machines = {}       # PIO state machines by number
        self.pio_programs = [[], []]

    def level(self, gpio):
        """Returns the level of a pin [0 or 1]."""
        return self.lines[gpio].level()


CHIP = Chip()


def renew():
    """Takes a fresh chip, as after power came; returns it."""
    CHIP.__init__()
    return CHIP


class Pin:
    """One GPIO as a driver sees it."""

    IN, OUT, OPEN_DRAIN = 0, 1, 2
    PULL_UP, PULL_DOWN = 1, 2

    def __init__(self, gpio, mode=-1, pull=-1, value=None):
        if isinstance(gpio, Pin):
            gpio = gpio.gpio
        self.gpio = gpio
        self.line = CHIP.lines[gpio]
        if mode >= 0:
            if value is not None:
                self._drive(value)   # the level before the direction
            self.line.mode = mode
            self.line.pull = pull
            self.line.pwm = None     # the pin leaves the other function

    def _drive(self, value):
        line = self.line
        before = line.level()
        line.out = 1 if value else 0
        if line.records:
            line.history.append(line.out)
        if line.i2c_slave is not None:
            line.i2c_slave.on_level(before, line.level())

    def value(self, level=None):
        if level is None:
            return self.line.level()
        self._drive(level)
        return None

    def __call__(self, level=None):
        return self.value(level)


class ADC:
    """One input of the converter; the pin must come as a Pin, as the drivers promise."""

    def __init__(self, pin):
        if not isinstance(pin, Pin):
            raise TypeError("a bare number leaves the pull-down on the pin")
        if not 26 <= pin.gpio <= 29:
            raise ValueError("no analogue input")
        self.gpio = pin.gpio

    def read_u16(self):
        return CHIP.analog[self.gpio]


class PWM:
    """One pulse output; starts only with frequency and width both set."""

    def __init__(self, pin, freq=0, duty_ns=0):
        self.line = pin.line
        self.frequency = freq
        self.widths = [duty_ns]      # every width ever set: the first one counts for a servo
        self.line.pwm = self
        self.keeps = True

    def duty_ns(self, width):
        if self.keeps:
            self.widths.append(width)
        else:
            self.widths[0] = width


class WDT:
    """The watchdog: counts, and bites if asked at the wrong time."""

    MOST_ms = 8388               # of the RP2040

    def __init__(self, timeout=5000):
        if timeout > self.MOST_ms:
            raise ValueError("timeout exceeds the maximum")
        self.timeout_ms = timeout
        self.fed = 0
        self.fed_ms = CHIP.clock.ticks_ms()
        CHIP.watchdog = self

    def feed(self):
        self.fed += 1
        self.fed_ms = CHIP.clock.ticks_ms()

    def has_bitten(self):
        """Returns whether the chip would have been reset."""
        return CHIP.clock.ticks_ms() - self.fed_ms > self.timeout_ms


def __getattr__(name):
    # The buses live in a module of their own, which needs this one.
    if name in ("UART", "I2C"):
        import buses
        return getattr(buses, name)
    raise AttributeError(name)


def mem_backup(region=0):
    """Returns the words that outlive a reset."""
    return CHIP.backup


def unique_id():
    """Returns the chip's serial number."""
    return b"forebay!"


def reset():
    """The chip would start again here."""
    CHIP.resets += 1
