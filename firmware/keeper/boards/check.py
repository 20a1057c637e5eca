"""Whether a table of pins can work on a board: judged at every start, before a pin is used.

Which pin a peripheral can have follows the function tables of the RP2040 and
RP2350 data sheets (section "GPIO functions"), the same for GPIO 0 to 28.
"""

from keeper.boards.pins import P_GPIO, P_KIND, P_NAME

LAST_GPIO = 28
ADC_FIRST, ADC_LAST = 26, 28
PWM_SLICES = 8


def pwm_slice(gpio):
    """Return the PWM slice [0 to 7] of a GPIO: two neighbours share one, then it wraps."""
    return gpio // 2 % PWM_SLICES


def i2c_number(sda_gpio, scl_gpio):
    """Return the I2C bus [0 or 1] of a pair of GPIOs, -1 if they are no pair."""
    if sda_gpio % 2 or scl_gpio % 2 == 0 or sda_gpio // 2 % 2 != scl_gpio // 2 % 2:
        return -1
    return sda_gpio // 2 % 2


def uart_number(tx_gpio, rx_gpio):
    """Return the UART [0 or 1] of a pair of GPIOs, -1 if they are no pair."""
    if tx_gpio % 4 or rx_gpio != tx_gpio + 1:
        return -1
    return (tx_gpio + 4) // 8 % 2


def problems(pins, reserved):
    """Return one line for each pin that cannot be what the table says it is."""
    found = _misplaced(pins, reserved)
    named = dict([(row[P_NAME], row[P_GPIO]) for row in pins])
    if i2c_number(named["i2c_sda"], named["i2c_scl"]) < 0:
        found.append("i2c_sda and i2c_scl are no pair of one bus")
    if uart_number(named["uart_tx"], named["uart_rx"]) < 0:
        found.append("uart_tx and uart_rx are no pair of one UART")
    slices = [pwm_slice(row[P_GPIO]) for row in pins if row[P_KIND] == "pwm"]
    if len(set(slices)) < len(slices):
        found.append("two PWM outputs share a slice, which has one frequency")
    return found


def _misplaced(pins, reserved):
    found = []
    taken = {}
    for row in pins:
        gpio = row[P_GPIO]
        if not 0 <= gpio <= LAST_GPIO or gpio in reserved:
            found.append("%s: GPIO %d is not ours" % (row[P_NAME], gpio))
        if gpio in taken:
            found.append("%s and %s: both on GPIO %d" % (taken[gpio], row[P_NAME], gpio))
        taken[gpio] = row[P_NAME]
        if row[P_KIND] == "adc" and not ADC_FIRST <= gpio <= ADC_LAST:
            found.append("%s: GPIO %d is no analogue input" % (row[P_NAME], gpio))
    return found
