"""What firmware asks of the interpreter, for CPython: counts instead of acting."""

KEPT = {"interrupt": 3, "depth": 0, "locked": 0}


def kbd_intr(character):
    """Takes the character that interrupts a program, -1 = none."""
    KEPT["interrupt"] = character


def heap_lock():
    """Counts a lock."""
    KEPT["depth"] += 1
    KEPT["locked"] += 1


def heap_unlock():
    """Counts an unlock; returns the depth that remains."""
    KEPT["depth"] -= 1
    return KEPT["depth"]


def const(value):
    """Returns the value."""
    return value
