"""One sitting: every step of a rig in order, resumed where it was left.

While somebody has a hand at the rig it stands in maintenance; what is left unfinished leaves it
there.  What only hands and eyes can see is asked at the end, with the rig by its own rules.
Nothing here prints or exits.
"""

import difflib
import re
import time
from collections.abc import Callable

from forebay.asking import Done, Skipped
from forebay.errors import InputError
from forebay.prove import running
from forebay.prove.found import FAILED, PASSED, SKIPPED, Result
from forebay.prove.opened import searched
from forebay.prove.record import Record
from forebay.prove.scene import Scene, StepSkipped
from forebay.prove.steps import AT_REST, BY_HAND, RUNNING, Step, names_of, steps_of
from keeper.operation import orders, proving

BEGUN = "begun"
POINT = re.compile(r"TP\d+-\w+")  # a hand meter's reading, which a search may ask for
STANDS = ("The rig stands in maintenance, and nothing starts. Go on with: forebay prove. Or once"
          " no hand is at it: forebay dispatch maintenance --end")


class ProveError(InputError):
    """The proof test cannot begin or go on: why, what to do."""


def prove(scene: Scene, rig_id: int, name: str, *,
          only: tuple[str, ...] = (), now_s: Callable[[], float] = time.time) -> Record:
    """Go through the steps of a rig; return the record of all that were done, of earlier
    sittings too.

    only: names of steps, empty = all.  now_s: gives the time [s since 1970 UTC].  Raises Left
    when the person leaves, ProveError for a name that no step has; WireError, DispatchError.
    """
    steps, kept = _chosen(scene, only), scene.kept
    begun_s = kept.found.get(BEGUN)
    if begun_s is None:
        begun_s = now_s()
        kept.keep(BEGUN, begun_s)
    live = [step for step in steps if step.kind != BY_HAND]
    if any(step.name not in kept.found for step in live):
        try:
            _go(scene, steps, live, now_s)
            _release(scene)
        except BaseException:
            _stand(scene)
            raise
    _go(scene, steps, [step for step in steps if step.kind == BY_HAND], now_s)
    return Record(rig_id, name, begun_s, now_s(), [kept.found[step.name] for step in steps])


def _chosen(scene, only):
    steps = steps_of(scene.rig)
    names = [step.name for step in steps]
    for name in only:
        if name not in names:
            near = difflib.get_close_matches(name, names, 1, cutoff=0.6)
            meant = f"; did you mean {near[0]}?" if near else "."
            raise ProveError(f"--only {name}: this rig has no such step{meant} It has:"
                             f" {', '.join(names)}")
    known = names_of(scene.rig)
    for name in scene.answers.unused:
        if name not in known and not POINT.fullmatch(name):
            near = difflib.get_close_matches(name, known, 1, cutoff=0.4)
            raise ProveError(f"answers: {name} is no step of this rig"
                             + (f"; did you mean {near[0]}?" if near else ""))
    return [step for step in steps if not only or step.name in only]


def _go(scene: Scene, steps: list[Step], part: list[Step], now_s) -> None:
    """Do a part of the steps, in order; what was done before is not done again."""
    stands, kept = False, scene.kept
    for step in part:
        place = steps.index(step) + 1
        if step.name in kept.found:
            scene.tell(f"{place}/{len(steps)} {step.title}: done before")
            continue
        if step.kind == AT_REST and not stands:
            running.hold(scene)
        stands = step.kind == AT_REST
        scene.tell(f"{place}/{len(steps)} {step.title}")
        result = _outcome(scene, step)
        kept.keep(step.name, {"name": step.name, "title": step.title, **result.as_json(),
                              "utc_s": round(now_s(), 1)})
        scene.tell({PASSED: "ok: ", FAILED: "NOT: ", SKIPPED: "left out: "}[result.outcome]
                   + result.said)
        if result.outcome == PASSED and step.kind in (AT_REST, RUNNING):
            scene.blink()


def _outcome(scene: Scene, step: Step) -> Result:
    try:
        _left_out(scene, step)
        _follows(scene, step)
        return searched(scene, step.run(scene))
    except StepSkipped as skipped:
        return Result(SKIPPED, "", skipped.reason)


def _follows(scene, step):
    """See whether what a step rests on has been proven."""
    before = scene.kept.found.get(step.after)
    if before is not None and before["outcome"] != PASSED:
        raise StepSkipped(f"it needs what did not pass: {before['title']}")


def _left_out(scene, step):
    """See whether a file of answers leaves a step out that no question asks for."""
    if step.kind == AT_REST and step.name in scene.answers.unused:
        answer = scene.answers.to(Done(step.name, step.title))
        if isinstance(answer, Skipped):
            raise StepSkipped(answer.reason)


def _release(scene):
    """Give the rig back to its own rules."""
    running.hold(scene)
    try:
        scene.ask(Done("end", "Hands off, guards on, lamps plugged in, hand valve as it should be:"
                       " the rig goes by its own rules again. What is left is done by hand."))
    except StepSkipped as skipped:
        scene.tell(f"{skipped.reason}. {STANDS}")
        return
    scene.order(orders.RELEASE)
    scene.order(orders.MAINTAIN, 0)


def _stand(scene):
    """Let the rig stand, as far as it can still be told."""
    try:
        scene.order(orders.PROVE, proving.END)
        running.hold(scene)
        scene.tell(STANDS)
    except InputError as error:
        scene.tell(f"The rig cannot be told to stand ({error}): look at it.")

