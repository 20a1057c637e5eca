"""Straight lines between the rows of a table."""

from keeper.physics.checks import require, require_rising


def row_below(x, xs):
    """Index of the last row whose x is not above the given x.

    largest i with xs_i <= x, by bisection

    Args:
        x: value to look up [any unit]
        xs: rising column of 2 rows or more, not checked here [same unit]
    Returns:
        index, 0 to len(xs) - 2 [-]
    Source: bisection
    Example:
        >>> row_below(2.5, (0, 1, 2, 3)), row_below(9, (0, 1, 2, 3))
        (2, 2)
    """
    low = 0
    high = len(xs) - 1
    while high - low > 1:
        middle = (low + high) // 2
        if x < xs[middle]:
            high = middle
        else:
            low = middle
    return low


def interpolate(x, xs, ys, name="x", unit=""):
    """Linear interpolation between the rows of a table.

    y = y0 + (y1 - y0) (x - x0) / (x1 - x0)

    Args:
        x: value to look up, within the first and last of xs [any unit]
        xs: rising column [same unit]
        ys: column of results, as long as xs [any unit]
        name: name of x, for the message [-]
        unit: unit of x, for the message [-]
    Returns:
        y at x [unit of ys]
    Raises:
        ValueError: x is outside the table, xs does not rise, lengths differ
    Source: definition
    Example:
        >>> interpolate(1.5, (1, 2), (10, 20))
        15.0
    """
    require_rising(name + " column", xs, unit)
    if len(ys) != len(xs):
        raise ValueError(name + " table: the columns must be of one length")
    require(name, x, xs[0], xs[-1], unit)
    row = row_below(x, xs)
    share = (x - xs[row]) / (xs[row + 1] - xs[row])
    return ys[row] + (ys[row + 1] - ys[row]) * share
