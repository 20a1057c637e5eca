"""The turbine's valve: a servo, or a motor with one output a direction.

Both keep an estimate of the position by the travel time and report a measured
one instead where there is a sensor.  `safe` stops the valve where it stands:
the keeper shuts it at the safe rate, and a jump to shut would be a water
hammer.  Positions are permille open; inside they count in millionths.
"""

from machine import PWM, Pin

from keeper.channels import INVALID

PERMILLE = 1000
MILLIONTHS = 1000000
# More than any stall of the flash: bounds the step of the estimate to 31 bits.
STEP_MOST_ms = 10000
SECOND_ms = 1000
SERVO_Hz = 50           # common practice of hobby servos, no source
# Both outputs off between two directions, so that the motor has stopped: a guess.
REVERSE_REST_ms = 200
SHUTTING, STOPPED, OPENING = -1, 0, 1


def _travelled(passed_ms, travel_ms):
    """Return the part of the travel [millionths] done in a time [ms]; allocates nothing."""
    passed_ms = min(passed_ms, STEP_MOST_ms)
    # Whole seconds apart: the product of both would leave 31 bits.
    whole = passed_ms // SECOND_ms * (SECOND_ms * MILLIONTHS // travel_ms)
    return whole + passed_ms % SECOND_ms * MILLIONTHS // travel_ms


class Servo:
    """A valve on a servo.  Its supply is switched on only once the pulse is right."""

    def __init__(self, pulse_gpio, supply_gpio, shut_us, open_us, travel_ms, start_permille,
                 sensor=None):
        """Begin with the pulse [us] of start_permille and the supply off.

        travel_ms: time from shut to open; sensor: `read()` gives the position.
        """
        self.shut_us = shut_us
        self.span_us = open_us - shut_us
        self.travel_ms = travel_ms
        self.sensor = sensor
        self.supply = Pin(supply_gpio, Pin.OUT, value=0)
        self.commanded = start_permille
        self.at = start_permille * PERMILLE
        # Frequency and width together: the output starts with the right pulse.
        self.pwm = PWM(Pin(pulse_gpio), freq=SERVO_Hz, duty_ns=self._pulse_ns(start_permille))

    def _pulse_ns(self, permille):
        return self.shut_us * PERMILLE + self.span_us * permille  # us x permille = ns

    def drive(self, wanted, passed_ms):
        """Follow a wanted position [0 to 1000]; allocates nothing."""
        step = _travelled(passed_ms, self.travel_ms)
        goal = self.commanded * PERMILLE
        if self.at < goal:
            self.at = min(goal, self.at + step)
        else:
            self.at = max(goal, self.at - step)
        if wanted != self.commanded:
            self.commanded = max(0, min(PERMILLE, wanted))
            self.pwm.duty_ns(self._pulse_ns(self.commanded))
        self.supply.value(1)

    def read(self):
        """Return the position [permille] or what the sensor says is wrong."""
        return self.at // PERMILLE if self.sensor is None else self.sensor.read()

    def is_moving(self):
        """Return False: a servo holds by itself where it was commanded."""
        return False

    def safe(self):
        """Leave the valve where it was last commanded."""
        self.pwm.duty_ns(self._pulse_ns(self.commanded))


class MotorValve:
    """A valve on a motor: runs until it stands where it should, then stops.

    At an end it is pressed on for a while, so that it seats and the estimate
    is true again.
    """

    def __init__(self, open_gpio, shut_gpio, travel_ms, deadband_permille, overrun_permille,
                 start_permille, sensor=None):
        """Begin stopped.  travel_ms: time from shut to open; sensor: `read()` gives permille."""
        self.open_pin = Pin(open_gpio, Pin.OUT, value=0)
        self.shut_pin = Pin(shut_gpio, Pin.OUT, value=0)
        self.travel_ms = travel_ms
        self.deadband = deadband_permille * PERMILLE
        self.overrun_ms = travel_ms * overrun_permille // PERMILLE
        self.sensor = sensor
        self.at = start_permille * PERMILLE
        self.direction = STOPPED
        self.last_direction = STOPPED
        self.rest_ms = 0         # how long both outputs must stay off
        self.pressed_ms = 0      # how long it has been pressed on at an end

    def drive(self, wanted, passed_ms):
        """Move towards a wanted position [0 to 1000]; allocates nothing."""
        self._estimate(passed_ms)
        self.rest_ms = max(0, self.rest_ms - passed_ms)
        at = self._position()
        if wanted <= 0:
            aim = self._to_end(SHUTTING, at <= 0, passed_ms)
        elif wanted >= PERMILLE:
            aim = self._to_end(OPENING, at >= MILLIONTHS, passed_ms)
        else:
            self.pressed_ms = 0
            aim = self._to(wanted * PERMILLE - at)
        self._set(aim)

    def _estimate(self, passed_ms):
        moved = self.at + self.direction * _travelled(passed_ms, self.travel_ms)
        self.at = max(0, min(MILLIONTHS, moved))

    def _position(self):
        """Return where it stands [millionths], by the sensor if it can be believed."""
        if self.sensor is None:
            return self.at
        measured = self.sensor.read()
        if -PERMILLE < measured < 2 * PERMILLE:  # else INVALID with a reason
            # Near an end the sensor's own error must not keep it from arriving.
            if measured * PERMILLE < self.deadband:
                return 0
            if measured * PERMILLE > MILLIONTHS - self.deadband:
                return MILLIONTHS
            return measured * PERMILLE
        return self.at

    def _to_end(self, direction, arrived, passed_ms):
        if not arrived:
            self.pressed_ms = 0
            return direction
        if self.direction == direction:
            self.pressed_ms += passed_ms
        return STOPPED if self.pressed_ms >= self.overrun_ms else direction

    def _to(self, error):
        if self.direction == STOPPED:
            if error > self.deadband:
                return OPENING
            return SHUTTING if error < -self.deadband else STOPPED
        return self.direction if error * self.direction > 0 else STOPPED

    def _set(self, aim):
        """Drive one way or none; a change of direction rests in between."""
        if aim != STOPPED and aim == -self.last_direction:
            self.last_direction = STOPPED
            self.rest_ms = REVERSE_REST_ms
        if self.rest_ms:
            aim = STOPPED
        if aim != OPENING:
            self.open_pin.value(0)
        if aim != SHUTTING:
            self.shut_pin.value(0)
        if aim == OPENING:
            self.open_pin.value(1)
        elif aim == SHUTTING:
            self.shut_pin.value(1)
        self.direction = aim
        if aim != STOPPED:
            self.last_direction = aim

    def read(self):
        """Return the position [permille] or what the sensor says is wrong."""
        return self.at // PERMILLE if self.sensor is None else self.sensor.read()

    def is_moving(self):
        """Return whether the motor runs, and would run on while nobody scans."""
        return self.direction != STOPPED

    def safe(self):
        """Stop both directions."""
        self.open_pin.value(0)
        self.shut_pin.value(0)
        self.direction = STOPPED


class NoValve:
    """A rig without a valve: position unknown, nothing to drive."""

    def drive(self, wanted, passed_ms):
        """Do nothing."""

    def read(self):
        """Return INVALID: there is nothing to read."""
        return INVALID

    def is_moving(self):
        """Return False."""
        return False

    def safe(self):
        """Do nothing."""
