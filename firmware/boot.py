"""First of all: every output off, before anything that could fail.

Nothing here can raise: if it did, the board would sit at its prompt with
nothing started.  A soft reset leaves pins as they were, so this also ends what
an interrupted program left on.  The numbers are those of the table of pins; a
test compares them.
"""

# Pump first; then lamps, dump, the valve's motor and pulse, the driver of the line.
OUTPUTS = (16, 17, 18, 19, 20, 10, 2)


def safe():
    """Drive every output low; one that fails keeps no other from it."""
    from machine import Pin
    for gpio in OUTPUTS:
        try:
            Pin(gpio, Pin.OUT, value=0)  # the level before the direction
        except Exception:  # noqa: BLE001 - the next one matters more
            pass


try:
    safe()
except Exception:  # noqa: BLE001 - see above
    pass
