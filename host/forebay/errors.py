"""The one base of the errors that a user can cause and mend."""


class InputError(ValueError):
    """bad input from the user: one line, exit code 2"""
