"""What can be wrong with a source of sun: always something the user can mend."""

from forebay.errors import InputError

MOST_QUOTED = 40  # letters of a file in one message


class SunError(InputError):
    """One line: what is wrong, where (file:line), what is allowed, what to do."""


def quoted(text):
    """Words of a file in quotes, cut where they are many: it may be no file of sun."""
    return f"'{text if len(text) <= MOST_QUOTED else text[:MOST_QUOTED - 3] + '...'}'"
