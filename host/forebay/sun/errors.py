"""What can be wrong with a source of sun: always something the user can mend."""

from forebay.errors import InputError


class SunError(InputError):
    """One line: what is wrong, where (file:line), what is allowed, what to do."""
