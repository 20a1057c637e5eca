"""What can be calibrated: one table, a file a task."""

from collections.abc import Callable
from typing import NamedTuple

from forebay.calibrate.outcomes import Outcome
from forebay.calibrate.sitting import Sitting
from forebay.calibrate.tasks import flow

BOARD, PAST = "board", "past"


class Task(NamedTuple):
    """A task; needs: instruments of which it wants one at least; by: BOARD or PAST.

    cautions: what is said before it begins.
    """

    summary: str
    needs: tuple[str, ...]
    by: str
    run: Callable[[Sitting], Outcome]
    cautions: str = ""


TASKS: dict[str, Task] = {
    "flow": Task("Flow meters, by buckets of water", ("flow_up", "flow_down"), BOARD, flow.run,
                 "Water is heavy: 10 L are 10 kg."),
}
