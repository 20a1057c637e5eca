"""Roots of equations that have one."""

_HALVINGS = 1100  # a double halves 1074 times before it reaches zero


def rising_root(function, low, high):
    """Root of a function that rises from below to above zero (bisection).

    f(low) <= 0 <= f(high); halved until the ends are neighbours

    Args:
        function: rising function of one number [-]
        low: argument at which it is not above zero [any unit]
        high: argument at which it is not below zero [same unit]
    Returns:
        root; high when the function is below zero there, low when above zero there [same unit]
    Source: bisection: it cannot overshoot a kink
    Example:
        >>> round(rising_root(lambda x: x * x - 2, 0.0, 2.0), 9)
        1.414213562
    """
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if middle <= low or middle >= high:
            break
        if function(middle) < 0:
            low = middle
        else:
            high = middle
    return high
