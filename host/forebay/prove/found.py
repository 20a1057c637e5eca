"""What a step of a proof test can come to, and what a wrong change means: words and names.

A finding's name is the same in the record, in scripts and in tests.  Knows no line and no clock.
"""

from typing import NamedTuple

from forebay.words.measured import CHANNELS, CONTACTS
from keeper.channels import CONTACTS as TABLE

PASSED, FAILED, SKIPPED = "passed", "failed", "skipped"
SWAPPED = "swapped "     # what the names of such findings begin with


class Result(NamedTuple):
    """How a step ended: PASSED, FAILED or SKIPPED; finding: its name, "" for none; said: a
    sentence."""

    outcome: str
    finding: str
    said: str

    def as_json(self) -> dict[str, str]:
        """Return it as documented in docs/json.md."""
        return self._asdict()


def passed(said: str) -> Result:
    """Return that a step saw what it should."""
    return Result(PASSED, "", said)


def failed(finding: str, said: str) -> Result:
    """Return what a step saw instead."""
    return Result(FAILED, finding, said)


def tag(name: str) -> str:
    """Return the tag of a contact or channel by its name in `keeper.channels`."""
    return (CONTACTS[name] if name in CONTACTS else CHANNELS[name]).tag


def is_swapped(result: Result) -> bool:
    """Return whether a step saw another contact change than the one that it asked for."""
    return result.finding.startswith(SWAPPED)


def swapped_contacts(one: str, other: str) -> Result:
    """Return that two contacts are on each other's pair."""
    first, second = sorted((one, other), key=TABLE.index)
    return failed(f"{SWAPPED}{tag(first)} {tag(second)}",
                  f"{tag(other)} changed instead of {tag(one)}: the two are on each other's pair."
                  " Swap the pairs at the box, then prove both again.")


def together(one: str, others: list[str]) -> Result:
    """Return that a contact does not move alone."""
    names = " and ".join(tag(name) for name in others)
    return failed(f"together {tag(one)}", f"{names} changed together with {tag(one)}: their cores"
                  " touch, or one float lifts the other. Look at the pairs at the box.")


METERS_SWAPPED = failed(
    f"{SWAPPED}FI-UP FI-DN", "The other flow meter counted: FI-UP and FI-DN are on each other's"
    " input. Swap their signal cores at the box.")
THERMOMETERS_SWAPPED = failed(
    f"{SWAPPED}TI-MOT TI-WTR", "The other thermometer warmed: the two have each other's serial"
    " number. Swap the numbers in rig.toml and flash, or the sensors in their places.")
VALVE_MOTOR = failed(
    "reversed valve motor", "The valve moves the wrong way: swap the two leads of its motor."
    " Hand valve shut until then.")
VALVE_SENSOR = failed(
    "reversed ZI-VLV", "The valve's position reads the wrong way round: swap the two ends of its"
    " sensor at the box.")
VALVE_STILL = failed(
    "valve stands", "The valve did not move: its feed or a lead of its motor is open, or its plug"
    " is stuck. Look at the fuse, then at the motor's terminals.")
PUMP_OPEN = "open pump"
LAMPS_OPEN = "open lamps"
GENERATOR_OPEN = "open generator"
PANEL_OPEN = "open panel"
NO_WATER_UP = failed(
    "no flow up", "Current and no flow: the pump has no prime, turns the wrong way (swap its two"
    " leads), or strainer or foot valve are shut; or FI-UP stands still.")
NO_WATER_DOWN = failed(
    "no flow down", "The valve is open and no water comes: hand valve, nozzle or penstock are"
    " shut or clogged; or FI-DN stands still.")


def missing(name: str, why: str) -> Result:
    """Return that a reading is not there."""
    return failed(f"missing {tag(name)}", f"{tag(name)}, {CHANNELS[name].plain}: {why}. Look at"
                  " its plug and leads first.")


def reversed_shunt(monitor: str) -> Result:
    """Return that a current reads the wrong way round."""
    return failed(f"reversed {tag(monitor + '_mA')}", f"{tag(monitor + '_mA')} reads the current"
                  f" the wrong way round: swap the two sense leads of the {monitor} shunt.")


def wrong_shunt(monitor: str, ratio: float) -> Result:
    """Return that a current reads another share than all of it."""
    return failed(f"wrong {tag(monitor + '_mA')}", f"{tag(monitor + '_mA')} reads {ratio:.2f} of"
                  f" what passes: the {monitor} shunt is not the one that rig.toml states. Measure"
                  " it, or put its ohms right and flash.")
