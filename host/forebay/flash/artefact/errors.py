"""What goes wrong when an artefact is made."""


class BuildError(ValueError):
    """The sources cannot be made into one module; the text says where and why."""
