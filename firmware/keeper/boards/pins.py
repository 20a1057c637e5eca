"""Which GPIO of the board does what, for every variant of it.

Drawn from hardware/pins.toml by `python -m forebay.docs.hardware`: do not edit.
`kind` is out, pwm, in, pulse, adc, i2c, one_wire or uart; `pull` is the chip's
own resistor, "up" or "none".
"""

PINS = (
    ("uart_tx", 0, "uart", "none",
     "RS-485 data to the line driver (UART0)"),
    ("uart_rx", 1, "uart", "up",
     "RS-485 data from the line receiver (UART0)"),
    ("uart_de", 2, "out", "none",
     "RS-485 driver enable, high while sending"),
    ("i2c_sda", 4, "i2c", "none",
     "current monitors, data (I2C0)"),
    ("i2c_scl", 5, "i2c", "none",
     "current monitors, clock (I2C0)"),
    ("flow_up", 6, "pulse", "up",
     "rising main meter, open collector"),
    ("flow_down", 7, "pulse", "up",
     "penstock meter, open collector"),
    ("contact_71h_up", 8, "in", "up",
     "71H-UP float to ground, opens when full"),
    ("contact_71hh_up", 9, "in", "up",
     "71HH-UP read-back contact, opens when over-full"),
    ("valve_pwm", 10, "pwm", "none",
     "valve servo, 50 Hz (PWM slice 5, alone on it)"),
    ("contact_71l_up", 11, "in", "up",
     "71L-UP float to ground, opens when empty"),
    ("contact_71l_lo", 12, "in", "up",
     "71L-LO float to ground, opens when empty"),
    ("contact_71h_lo", 13, "in", "up",
     "71H-LO float to ground, opens when full"),
    ("contact_stop", 14, "in", "up",
     "local stop's read-back contact, opens when pressed"),
    ("button", 15, "in", "up",
     "push button to ground, closed while pressed"),
    ("pump_switch", 16, "out", "none",
     "pump switch driver, high = on"),
    ("lamps_off", 17, "out", "none",
     "lamp contact driver, high = lamps taken off"),
    ("dump_switch", 18, "out", "none",
     "dump load driver, high = on"),
    ("valve_open", 19, "out", "none",
     "valve motor opening, or the servo's supply, high = on"),
    ("valve_close", 20, "out", "none",
     "valve motor closing, high = on"),
    ("one_wire", 22, "one_wire", "none",
     "temperature sensors of motor and water (1-Wire)"),
    ("adc_level", 26, "adc", "none",
     "level sensor, 0.5-4.5 V halved"),
    ("adc_valve", 27, "adc", "none",
     "valve position, or a thermistor of the motor"),
    ("adc_loop", 28, "adc", "none",
     "71HH-UP loop through its end-of-line resistor"),
)

P_NAME, P_GPIO, P_KIND, P_PULL, P_TEXT = range(5)


def gpio(name):
    """Return the GPIO number of a pin by its name; KeyError if there is none."""
    for row in PINS:
        if row[P_NAME] == name:
            return row[P_GPIO]
    raise KeyError(name)


def outputs():
    """Return the rows of all pins that drive something, for whoever makes them safe."""
    return [row for row in PINS if row[P_KIND] in ("out", "pwm")]
