"""The turbine's valve: a servo, or a motor that pulses of the chip's own drive.

Where it should stand and for how long its motor runs is the positioner's business;
a motor stands still whenever no pulse runs.  `safe` stops the valve where it stands:
the keeper shuts it at the safe rate, and a jump to shut would be a water hammer.
Positions are permille open.
"""

from machine import PWM, Pin

from keeper.channels import INVALID, NO_ANSWER

PERMILLE = 1000
SERVO_Hz = 50           # common practice of hobby servos, no source
# Scans without a pulse after which both directions are surely low: one pulse runs, one waits.
QUIET_SCANS = 2


class Servo:
    """A valve on a servo.  Its supply is switched on only once the pulse is right."""

    def __init__(self, pulse_gpio, supply_gpio, shut_us, open_us, start_permille, sensor=None):
        """Begin with the pulse [us] of start_permille and the supply off.

        sensor: `read()` gives the position.
        """
        self.shut_us = shut_us
        self.span_us = open_us - shut_us
        self.sensor = sensor
        self.supply = Pin(supply_gpio, Pin.OUT, value=0)
        self.commanded = start_permille
        # Frequency and width together: the output starts with the right pulse.
        self.pwm = PWM(Pin(pulse_gpio), freq=SERVO_Hz, duty_ns=self._pulse_ns(start_permille))

    def _pulse_ns(self, permille):
        return self.shut_us * PERMILLE + self.span_us * permille  # us x permille = ns

    def drive(self, wanted, _):
        """Go to a wanted position [0 to 1000]; allocates nothing."""
        if wanted != self.commanded:
            self.commanded = max(0, min(PERMILLE, wanted))
            self.pwm.duty_ns(self._pulse_ns(self.commanded))
        self.supply.value(1)

    def read(self):
        """Return the position [permille] or what the sensor says is wrong."""
        return self.commanded if self.sensor is None else self.sensor.read()

    def stands(self):
        """Return where to believe it after a reset [permille]."""
        return self.commanded

    def is_moving(self):
        """Return False: a servo holds by itself where it was commanded."""
        return False

    def safe(self):
        """Leave the valve where it was last commanded."""
        self.pwm.duty_ns(self._pulse_ns(self.commanded))


class MotorValve:
    """A valve on a motor that runs one way or the other while a pulse lasts."""

    def __init__(self, opens, shuts, sensor=None):
        """Take a `keeper.drivers.pulse.Pulse` for each direction.

        sensor: `read()` gives the position.
        """
        self.opens = opens
        self.shuts = shuts
        self.sensor = sensor
        self.is_opening = False  # direction of the newest pulse
        self.quiet_scans = QUIET_SCANS  # since that pulse, no more than count

    def drive(self, _, ms):
        """Let the motor run for a part of a scan [ms], + opens; allocates nothing.

        A change of direction before the pulses of the other have ended is left out: the
        positioner rests longer, and both at once are never right.
        """
        if ms == 0:
            self.quiet_scans = min(QUIET_SCANS, self.quiet_scans + 1)
            return
        is_opening = ms > 0
        if is_opening != self.is_opening:
            if self.quiet_scans < QUIET_SCANS:
                return
            self.is_opening = is_opening
        self.quiet_scans = 0
        self._run(is_opening, ms if is_opening else -ms)

    def _run(self, is_opening, ms):
        if is_opening:
            self.opens.put(ms)
        else:
            self.shuts.put(ms)

    def read(self):
        """Return the position [permille] or what the sensor says is wrong."""
        return INVALID + NO_ANSWER if self.sensor is None else self.sensor.read()

    def stands(self):
        """Return INVALID: after a reset nobody knows where a motor stands."""
        return INVALID

    def is_moving(self):
        """Return whether the motor runs: a stall of the flash would interrupt it."""
        return self.quiet_scans == 0

    def safe(self):
        """Stop both directions."""
        self.opens.stop()
        self.shuts.stop()


class ReversedValve(MotorValve):
    """A valve whose one motor circuit is reversed by a second switch."""

    def __init__(self, runs, reverse_gpio, sensor=None):
        """Take the `Pulse` that lets it run, and the GPIO that is high while it shuts."""
        MotorValve.__init__(self, runs, runs, sensor)
        self.reverse = Pin(reverse_gpio, Pin.OUT, value=0)

    def drive(self, wanted, ms):
        """As a `MotorValve`; at rest the reversing switch is let go."""
        MotorValve.drive(self, wanted, ms)
        if self.quiet_scans >= QUIET_SCANS:
            self.reverse.value(0)

    def _run(self, is_opening, ms):
        self.reverse.value(0 if is_opening else 1)
        self.opens.put(ms)

    def safe(self):
        """Stop the motor, then let the reversing switch go."""
        MotorValve.safe(self)
        self.reverse.value(0)


class SpringValve(MotorValve):
    """A valve that a spring shuts, at its own speed, once its supply is let go."""

    def __init__(self, opens, shuts, hold_gpio, sensor=None):
        """Take the pulses, and the GPIO that holds the supply."""
        MotorValve.__init__(self, opens, shuts, sensor)
        self.hold = Pin(hold_gpio, Pin.OUT, value=0)

    def drive(self, wanted, ms):
        """As a `MotorValve`; the supply is held until it was driven shut."""
        self.hold.value(1 if wanted or ms else 0)
        MotorValve.drive(self, wanted, ms)

    def safe(self):
        """Stop both directions and let the spring shut it."""
        MotorValve.safe(self)
        self.hold.value(0)


class NoValve:
    """A rig without a valve: nothing to read, nothing to drive."""

    def drive(self, wanted, ms):
        """Do nothing."""

    def read(self):
        """Return 0: what is not there is not open."""
        return 0

    def stands(self):
        """Return INVALID."""
        return INVALID

    def is_moving(self):
        """Return False."""
        return False

    def safe(self):
        """Do nothing."""
