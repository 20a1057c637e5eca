"""A description of one's own: written from a few answers, copied, or carried over.

- `fresh` scales every figure that nobody stated from the modest packaged rig, and marks it.
- `copied` is a packaged rig under another name: all its figures are marked.
- `carried` is another rig of one's own with answers put over it; its marks stay.
- Nothing is overwritten, and nothing is written that does not load.
"""

import importlib.resources
import json
import re
import tomllib
from collections.abc import Collection, Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from forebay.errors import InputError
from forebay.rig import Rig, RigError, instruments, load, load_text, remaining
from forebay.rig.assumed import SECTION
from forebay.rig.beginning import judging, scaling, writing
from forebay.rig.beginning.questions import MODEST, QUESTIONS, modest
from forebay.rig.loading import values_of
from forebay.rig.reading import Refused, read
from forebay.rig.recipes import is_figure
from forebay.rig.schema import KEYS

_NAME = re.compile(r'^name = ".*"$', re.MULTILINE)
_UNMARKED = re.compile(rf"^# .*\[{SECTION}\].*\n", re.MULTILINE)  # the demo's word on itself
_HEAD = ("# {name}: begun from the packaged rig {demo}, whose figures it has until you replace\n"
         "# them by what you measure.\n#\n")
_SOURCE = "forebay new"  # for errors


class Begun(NamedTuple):
    """A description that was written; left: kinds of hazard left to hardware [-].

    doubts: a line for each thing that its owner has hardly meant.
    """

    path: Path
    rig: Rig
    left: int
    doubts: list[str]


def fresh(name: str, stated: Mapping[str, Any], fitted: Collection[str] | None = None,
          out: str | None = None) -> Begun:
    """Write a description from answers; the rest is scaled and marked.

    stated: answers by the name of a question [SI]; fitted: names of instruments, None = those
    of the modest rig; out: path, None = after the name, here.
    Raises InputError with one line for each thing that cannot be.
    """
    _check_name(name)
    answers = completed(stated)
    known = _stated(stated)
    found = scaling.figures(answers, set(modest_fitted() if fitted is None else fitted), known)
    values, _ = values_of(tomllib.loads(writing.text(name, MODEST, found, ())))
    found |= scaling.settled(values, "steps" not in stated)
    known |= {"lower.base_height"} if "lift" in stated else set()
    marks = {place for place in found if is_figure(place) and place not in known}
    text = writing.text(name, MODEST, found, marks)
    values, faults = values_of(tomllib.loads(text))
    if faults:
        raise RigError(judging.impossible(values) or faults)
    rig = load_text(text, _SOURCE)
    faults = judging.unbuildable(rig)
    if faults:
        raise RigError(faults)
    unread = marks - rig.marked  # of what the rig does not have
    return _written(name, writing.text(name, MODEST, found, marks - unread), out)


def completed(stated: Mapping[str, Any]) -> dict[str, Any]:
    """Return answers to all questions [SI]; raises InputError for two that contradict."""
    _check_tank(stated)
    answers: dict[str, Any] = {}
    for question in QUESTIONS:
        answers[question.name] = (stated[question.name] if question.name in stated
                                  else question.default({**stated, **answers}))
    return answers


def copied(name: str, demo: str, out: str | None = None) -> Begun:
    """Write a packaged rig under another name; every figure of it is marked.

    demo: of `forebay.rig.DEMOS`.  Raises InputError for a name that no rig can have, and for
    a file that is there or cannot be written.
    """
    _check_name(name)
    packaged = importlib.resources.files("forebay") / "demo" / f"{demo}.toml"
    text = _UNMARKED.sub("", packaged.read_text(encoding="utf-8"))
    quoted = f"name = {json.dumps(name, ensure_ascii=False)}"
    text = _NAME.sub(lambda _: quoted, text, count=1)
    source = tomllib.loads(text)
    marks = [place for place in load_text(text, _SOURCE).figures
             if place.partition(".")[2] in source.get(place.partition(".")[0], {})]
    head = _HEAD.format(name=" ".join(name.split()), demo=demo)
    return _written(name, f"{head}{text}\n{writing.marked(marks)}", out)


def carried(name: str, source: str, stated: Mapping[str, Any], fit: Iterable[str] = (),
            unfit: Iterable[str] = (), out: str | None = None) -> Begun:
    """Write the rig of a file under another name, with answers put over it.

    fit, unfit: names of instruments that are there now, and that are not.
    Raises InputError as `fresh`, and for a source that does not load.
    """
    from forebay.rig.beginning.carrying import Carried  # tomlkit takes a while to load

    _check_name(name)
    _check_tank(stated)
    rig = load(source)
    changed = Carried(rig)
    changed.put("rig.name", name)
    changed.answer(stated)
    fit, unfit = set(fit), set(unfit)
    if fit or unfit:
        changed.fit((instruments.fitted(rig.sensors) | fit) - unfit)
    values, faults = values_of(tomllib.loads(changed.text))
    if faults:
        raise RigError(judging.impossible(values) or faults)
    return _written(name, changed.text, out, judging.unbuildable(load_text(changed.text, _SOURCE)))


def modest_fitted() -> set[str]:
    """Return the names of the instruments of the modest rig: what a new one has unless told."""
    return {one.name for one in instruments.INSTRUMENTS
            if instruments.is_fitted(modest(), one.name)}


def _stated(stated: Mapping[str, Any]) -> set[str]:
    """Return the "section.key" of each figure that is an answer as it was given."""
    known = {one.place for one in QUESTIONS if one.name in stated and one.name != "tank"}
    known.discard("upper.inlet_height")  # --lift sets the lower tank's by it
    if "tank" in stated and stated["tank"].sizes_m:
        known |= {f"upper.{name}" for name in ("shape", "diameter", "length", "width", "height")}
    return known | ({"night.setpoint"} if "steps" in stated else set())


def _check_tank(stated: Mapping[str, Any]) -> None:
    tank = stated.get("tank")
    if tank and tank.sizes_m and "tank_diameter" in stated:
        raise InputError("--tank-diameter goes with litres alone: --tank says the sizes already")


def _check_name(name: str) -> None:
    try:
        read(KEYS["rig.name"], name)
    except Refused as error:
        raise InputError(f"NAME {name!r}: {error.reason}") from None


def save(path: Path, text: str, flag: str) -> None:
    """Write a description where there is none; flag: with which another file is named.

    Raises InputError if the file is there, or cannot be written.
    """
    try:
        with open(path, "x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise InputError(f"{path} is there: nothing is overwritten, name another file with"
                         f" {flag}") from None
    except OSError as error:
        raise InputError(f"cannot write {path}: {error.strerror or error}") from error


def _written(name: str, text: str, out: str | None, doubts: Iterable[str] = ()) -> Begun:
    rig = load_text(text, _SOURCE)
    path = Path(out or f"{_plain(name)}.toml")
    save(path, text, "--out")
    values = rig.plant()
    return Begun(path, rig, len(remaining.left_to_hardware(values)),
                 [*judging.doubtful(values), *doubts])


def _plain(name):
    """Return a name as that of a file: letters, digits and hyphens."""
    found = re.sub(r"[^\w]+", "-", name.lower()).strip("-")
    if not found:
        raise InputError(f"no file can be named after {name!r}: say --out FILE.toml")
    return found
