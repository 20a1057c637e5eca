"""Which GPIO of the board does what, for every variant of it.

Drawn from hardware/pins.toml by `python -m forebay.docs.hardware`: do not edit.
`kind` is out, pwm, in, pulse, adc, i2c, one_wire or uart; `pull` is the chip's
own resistor, "up" or "none".  What a pin is for, for people: hardware/pins.md.
"""

PINS = (
    ("uart_tx", 0, "uart", "none"),
    ("uart_rx", 1, "uart", "up"),
    ("uart_de", 2, "out", "none"),
    ("i2c_sda", 4, "i2c", "none"),
    ("i2c_scl", 5, "i2c", "none"),
    ("flow_up", 6, "pulse", "up"),
    ("flow_down", 7, "pulse", "up"),
    ("contact_71h_up", 8, "in", "up"),
    ("contact_71hh_up", 9, "in", "up"),
    ("valve_pwm", 10, "pwm", "none"),
    ("contact_71l_up", 11, "in", "up"),
    ("contact_71l_lo", 12, "in", "up"),
    ("contact_71h_lo", 13, "in", "up"),
    ("contact_stop", 14, "in", "up"),
    ("button", 15, "in", "up"),
    ("pump_switch", 16, "out", "none"),
    ("lamps_off", 17, "out", "none"),
    ("dump_switch", 18, "out", "none"),
    ("valve_open", 19, "out", "none"),
    ("valve_close", 20, "out", "none"),
    ("one_wire", 22, "one_wire", "none"),
    ("adc_level", 26, "adc", "none"),
    ("adc_valve", 27, "adc", "none"),
    ("adc_loop", 28, "adc", "none"),
)

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
