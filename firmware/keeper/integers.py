"""Tables of named integers with limits, and the files that hold their values.

Settings and wiring are such tables: literal rows (name, lowest, highest, ...)
and pairs of names of which the first must lie below the second.  A file is a
mark, a version, a count, the values, a CRC.  A board knows no names: all that
it needs of a table is its form.
"""

import binascii
import struct

MARK_BYTES = 4
HEAD_BYTES = 8    # mark, version, count
VALUE_BYTES = 4
CRC_BYTES = 4

R_NAME, R_LOWEST, R_HIGHEST = range(3)
# Of a form: mark and version of the file, how many values; then lowest and highest of each
# value, then the two places of each pair.  One list of numbers: a board can let it go after
# the start, a tuple of constants not.
F_MARK, F_VERSION, F_VALUES, F_LIMITS = range(4)


def column(rows, place):
    """Return one column of a table [tuple]."""
    return tuple([row[place] for row in rows])


def form_of(mark, version, rows, ordered):
    """Return the form of a table [list]: see above."""
    form = [mark, version, len(rows)]
    for row in rows:
        form += [row[R_LOWEST], row[R_HIGHEST]]
    names = column(rows, R_NAME)
    for lower, upper in ordered:
        form += [names.index(lower), names.index(upper)]
    return form


def pairs(form):
    """Return (lower, upper) place of each pair that a form orders."""
    first = F_LIMITS + 2 * form[F_VALUES]
    return [(form[at], form[at + 1]) for at in range(first, len(form), 2)]


def problems(rows, form, values):
    """Return one line for each of the values that cannot be; an empty list if all is well."""
    if len(values) != len(rows):
        return ["%d values, expected %d" % (len(values), len(rows))]
    found = []
    for row, value in zip(rows, values):
        if not row[R_LOWEST] <= value <= row[R_HIGHEST]:
            found.append("%s = %d: must be %d to %d" % (row[R_NAME], value, row[R_LOWEST],
                                                        row[R_HIGHEST]))
    for lower, upper in pairs(form):
        if values[lower] >= values[upper]:
            found.append("%s must be below %s" % (rows[lower][R_NAME], rows[upper][R_NAME]))
    return found


def checked(form, values, found):
    """Return values as the bytes of a file; ValueError with every problem found, in one line."""
    if found:
        raise ValueError("; ".join(found))
    return packed(form, values)


def packed(form, values):
    """Return values [integers of 32 bits] that were found good as the bytes of a file."""
    body = form[F_MARK] + struct.pack("<HH%di" % len(values), form[F_VERSION], len(values),
                                      *values)
    return body + struct.pack("<I", binascii.crc32(body))


def unpacked(form, data):
    """Return the values of a file [list in table order].

    Raises ValueError if it is another file, damaged, of another version, or
    if a value is out of range.
    """
    if len(data) < HEAD_BYTES + CRC_BYTES or data[:MARK_BYTES] != form[F_MARK]:
        raise ValueError("another kind of file")
    if struct.unpack("<I", data[-CRC_BYTES:])[0] != binascii.crc32(data[:-CRC_BYTES]):
        raise ValueError("damaged: the CRC does not fit")
    found, count = struct.unpack("<HH", data[MARK_BYTES:HEAD_BYTES])
    end = HEAD_BYTES + VALUE_BYTES * count
    if found != form[F_VERSION] or len(data) != end + CRC_BYTES:
        raise ValueError("version %d, expected %d" % (found, form[F_VERSION]))
    values = list(struct.unpack("<%di" % count, data[HEAD_BYTES:end]))
    if not lie_within(form, values):
        raise ValueError("a value is out of range")
    return values


def lie_within(form, values):
    """Return whether each value lies within its limits, and the pairs in order [bool]."""
    if len(values) != form[F_VALUES]:
        return False
    for place in range(len(values)):
        limits = F_LIMITS + 2 * place
        if not form[limits] <= values[place] <= form[limits + 1]:
            return False
    for lower, upper in pairs(form):
        if values[lower] >= values[upper]:
            return False
    return True


def least(form):
    """Return values that lie within, each as low as it may be."""
    values = form[F_LIMITS:F_LIMITS + 2 * form[F_VALUES]:2]
    again = True
    while again:  # raise what must lie above; the pairs make no circle
        again = False
        for lower, upper in pairs(form):
            if values[lower] >= values[upper]:
                values[upper] = values[lower] + 1
                again = True
    return values
