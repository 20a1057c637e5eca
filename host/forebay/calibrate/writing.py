"""What was found, put into the description and onto the shelf; it must not know the tasks.

The new description is made whole and checked as any other before a byte of it is written.
"""

from typing import Any

from forebay.calibrate.outcomes import Outcome
from forebay.calibrate.sitting import DESCRIPTION, CalibrateError, Sitting
from forebay.rig import Rig, RigError, load_text
from forebay.rig.beginning.carrying import Carried

KIND = "calibration"   # of its records on a shelf


def proposed(rig: Rig, outcome: Outcome) -> Rig:
    """Return a description with what was found in it; comments and all else stay.

    Raises CalibrateError where the figures do not go together with the others.
    """
    carried = Carried(rig)
    for place, value in outcome.changes().items():
        if value is None:
            carried.drop(place)
        else:
            carried.put(place, value)
    try:
        return load_text(carried.text, rig.source_name)
    except RigError as error:
        raise CalibrateError("what was found does not go with the rest of the description, and"
                             f" nothing was written: {'; '.join(error.lines())}") from None


def document(sitting: Sitting, outcome: Outcome, before: Rig, after: Rig | None) -> dict[str, Any]:
    """Return the record of a calibration: what was answered and read, found and written.

    after: the description that was written, None = none was.
    """
    answers = {name: found for name, found in sitting.kept.found.items() if name != DESCRIPTION}
    return {**outcome.as_json(), "rig": before.rig.name, "digest_before": before.digest,
            "digest_after": after.digest if after else None, "answers": answers}
