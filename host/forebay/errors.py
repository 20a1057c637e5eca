"""The one base of the errors that a user can cause and mend."""


class InputError(ValueError):
    """bad input from the user: one line, exit code 2"""

    def lines(self) -> list[str]:
        """Return what is to be told: a line, or several where several things are wrong."""
        return [str(self)]
