"""From "volts and no current" to the search for the joint, lead or part that is open."""

from forebay.prove.found import Result
from forebay.prove.scene import Live, Scene

# What a step names, and the symptom that the search takes.
SYMPTOMS = {"open pump": "pump", "open panel": "panel", "open lamps": "lamps",
            "open generator": "generator"}


def search_open(scene: Scene, result: Result, live: Live) -> Result:
    """Return a step's result with what a search by hand meter found; as it is without one."""
    return result
