"""Range checks whose messages are the same on every interpreter.

Interpreters differ in how they print a float, so the text of a number is built
here from integer digits.
"""

_DIGITS = 6  # significant digits shown: what single precision can carry
_PLAIN_LOW = -4  # smallest decimal exponent written without "e", as in C's %g
_ROUNDING_SLACK = 1e-6  # a level may pass its limit by this share, through rounding


def number_text(value):
    """Text of a number with six significant digits, alike on every interpreter.

    digits = round(x 10^(5 - e)), e the decimal exponent of x

    Args:
        value: any number [-]
    Returns:
        decimal text, with an exponent below 1e-4 and from 1e6 up [-]
    Source: the rules of C's %g, with digits from integer arithmetic
    Example:
        >>> number_text(1.25), number_text(-2e-7), number_text(12)
        ('1.25', '-2e-7', '12')
    """
    if value != value:
        return "nan"
    sign = "-" if value < 0 else ""
    size = abs(value)
    if size == 0:
        return "0"
    if size * 0.5 == size:
        return sign + "inf"
    exponent, scaled = _scientific(size * 1.0)
    digits = str(int(scaled * 10 ** (_DIGITS - 1) + 0.5))
    if len(digits) > _DIGITS:
        exponent += 1
    return sign + _place_point(digits[:_DIGITS].rstrip("0"), exponent)


def _scientific(size):
    """Return (e, m) with size = m 10^e and 1 <= m < 10."""
    exponent = 0
    while size >= 10.0:
        size /= 10.0
        exponent += 1
    while size < 1.0:
        size *= 10.0
        exponent -= 1
    return exponent, size


def _place_point(digits, exponent):
    if exponent < _PLAIN_LOW or exponent >= _DIGITS:
        tail = "." + digits[1:] if len(digits) > 1 else ""
        return digits[0] + tail + "e" + str(exponent)
    if exponent < 0:
        return "0." + "0" * (-exponent - 1) + digits
    whole = digits[: exponent + 1]
    whole += "0" * (exponent + 1 - len(whole))
    tail = digits[exponent + 1 :]
    return whole + ("." + tail if tail else "")


def require(name, value, low, high, unit):
    """Refuse a value outside its range (a NaN is outside every range).

    low <= x <= high

    Args:
        name: name of the argument, for the message [-]
        value: value to check [any unit]
        low: least allowed value [same unit]
        high: greatest allowed value [same unit]
        unit: unit for the message, "" for a pure number [-]
    Returns:
        nothing [-]
    Raises:
        ValueError: "<name> = <value> <unit>: must be <low> to <high> <unit>"
    Source: own convention
    Example:
        >>> require("depth_m", 12.5, 0, 10, "m")
        Traceback (most recent call last):
        ValueError: depth_m = 12.5 m: must be 0 to 10 m
    """
    if not low <= value <= high:
        unit = " " + unit if unit else ""
        raise ValueError(
            name
            + " = "
            + number_text(value)
            + unit
            + ": must be "
            + number_text(low)
            + " to "
            + number_text(high)
            + unit
        )


def require_within(name, value, high, unit):
    """Refuse a value outside 0 to high by more than rounding can explain.

    -1e-6 high <= x <= (1 + 1e-6) high

    Args:
        name: name of the argument, for the message [-]
        value: value to check [any unit]
        high: greatest allowed value; a millionth of it is forgiven at both ends [same unit]
        unit: unit for the message [-]
    Returns:
        nothing [-]
    Raises:
        ValueError: the value is outside the range
    Source: own convention; a millionth is sixteen roundings in single precision
    Example:
        >>> require_within("level_m", 1.0000001, 1.0, "m")
    """
    slack = _ROUNDING_SLACK * high
    if not -slack <= value <= high + slack:
        require(name, value, 0, high, unit)


def require_rising(name, values, unit):
    """Refuse a table column that does not rise strictly or has under two rows.

    x_i > x_(i-1)

    Args:
        name: name of the column, for the message [-]
        values: sequence of numbers [any unit]
        unit: unit for the message, "" for a pure number [-]
    Returns:
        nothing [-]
    Raises:
        ValueError: too few rows, or a row that is not above the one before
    Source: own convention
    Example:
        >>> require_rising("levels_m", (0, 1, 1), "m")
        Traceback (most recent call last):
        ValueError: levels_m[2] = 1 m: must be above 1 m
    """
    if len(values) < 2:
        raise ValueError(name + ": must have 2 rows or more, has " + str(len(values)))
    unit = " " + unit if unit else ""
    for row in range(1, len(values)):
        if not values[row] > values[row - 1]:
            raise ValueError(
                name
                + "["
                + str(row)
                + "] = "
                + number_text(values[row])
                + unit
                + ": must be above "
                + number_text(values[row - 1])
                + unit
            )
