"""A rig of one's own carried over into a new file: its figures, marks and comments stay.

Answers are put over it; what follows from them is scaled and marked.
"""

import math
from collections.abc import Iterable, Mapping
from typing import Any

import tomlkit

from forebay.rig import Rig
from forebay.rig.assumed import SECTION
from forebay.rig.beginning import scaling
from forebay.rig.beginning.questions import QUESTIONS, Question, Tank
from forebay.rig.beginning.writing import DIGITS, STATED_DIGITS, written
from forebay.rig.instruments import INSTRUMENTS, SUN
from forebay.rig.recipes import is_figure
from forebay.rig.schema import CYLINDER, KEYS, PLACE_OF
from keeper.physics import of_rig

_FITTED = frozenset(one.key for one in INSTRUMENTS)
_SHAPE = ("shape", "length", "width", "diameter", "levels", "volumes", "height")
_VOLUMES = ("start", "empty", "full", "over_full", "overflow")


def answers_of(rig: Rig) -> dict[str, Any]:
    """Return a rig's figures as answers to the questions [SI]."""
    values = rig.plant()
    found = {one.name: values[PLACE_OF[one.place]] for one in QUESTIONS
             if one.name not in ("tank", "tank_diameter", "lift")}
    shape = of_rig.tank(values, "upper.")
    round_m = 2 * (shape.capacity_m3 / shape.height_m / math.pi) ** 0.5  # of no cylinder: as if
    across_m = values.get("upper.diameter_m", round_m)
    return {**found, "tank": Tank(shape.capacity_m3, CYLINDER, (across_m, shape.height_m)),
            "tank_diameter": across_m,
            "lift": values["upper.inlet_height_m"] - values["lower.base_height_m"]}


class Carried:
    """A description being changed; `text` is it as it stands."""

    def __init__(self, rig: Rig):
        self.rig = rig
        self.values = rig.plant()
        self.document = tomlkit.parse(rig.toml_text)

    @property
    def text(self) -> str:
        """The whole file."""
        return tomlkit.dumps(self.document)

    def put(self, place: str, value: Any, is_assumed: bool = False) -> None:
        """State a figure [plain unit], and mark it or take its mark away."""
        section, _, name = place.partition(".")
        if section not in self.document:
            self.document[section] = tomlkit.table()
        digits = DIGITS if is_assumed else STATED_DIGITS
        self.document[section][name] = tomlkit.parse(
            f"x = {written(KEYS[place], value, digits)}")["x"]
        self._mark(section, name, is_assumed and is_figure(place))

    def drop(self, place: str) -> None:
        """Take a key out of the file."""
        section, _, name = place.partition(".")
        self.document[section].pop(name, None)
        self._mark(section, name, False)

    def _mark(self, section: str, name: str, is_marked: bool) -> None:
        if not is_marked and name not in self.document.get(SECTION, {}).get(section, ()):
            return
        if SECTION not in self.document:
            self.document[SECTION] = tomlkit.table()
        marks = self.document[SECTION]
        names = [one for one in marks.get(section, ()) if one != name]
        marks[section] = names + [name] if is_marked else names

    def answer(self, stated: Mapping[str, Any]) -> None:
        """Put answers [SI] over the rig; those to tank, head and lift move others with them."""
        plain: Iterable[Question] = [one for one in QUESTIONS if one.name in stated
                                     and one.name not in ("tank", "tank_diameter", "head", "lift")]
        for question in plain:
            self.put(question.place, stated[question.name])
        if "steps" in stated:
            self.put("night.setpoint", max(stated["steps"]))
        if "tank" in stated or "tank_diameter" in stated:
            self._tank(stated)
        if "head" in stated:
            gap_m = self.values["upper.inlet_height_m"] - self.values["upper.base_height_m"]
            self.values["upper.inlet_height_m"] = stated["head"] + gap_m
            self.put("upper.base_height", stated["head"])
            self.put("upper.inlet_height", stated["head"] + gap_m,
                     "upper.inlet_height" in self.rig.marked)
        if "lift" in stated:
            self.put("lower.base_height",
                     self.values["upper.inlet_height_m"] - stated["lift"])

    def _tank(self, stated) -> None:
        """State another tank; its volumes and the inlet follow."""
        answers = {**answers_of(self.rig), **stated}
        if "tank" not in stated:
            answers["tank"] = Tank(answers["tank"].volume_m3)
        found = scaling.upper(answers)
        sizes = {f"upper.{name}" for name in _SHAPE}
        is_sized = bool(answers["tank"].sizes_m)
        for name in _SHAPE:
            if f"upper.{name}" not in found:
                self.drop(f"upper.{name}")
        for place, value in found.items():
            if place in sizes:
                self.put(place, value, not is_sized and not (
                    place == "upper.diameter" and "tank_diameter" in stated))
            elif place in [f"upper.{one}_volume" for one in _VOLUMES] + ["upper.inlet_height"]:
                self.put(place, value, is_assumed=True)
        self.values["upper.inlet_height_m"] = found["upper.inlet_height"]

    def fit(self, fitted: set[str]) -> None:
        """Say which instruments are there; what those that are new need is scaled and marked."""
        found = scaling.sensors(answers_of(self.rig), fitted)
        for place, value in found.items():
            if place in _FITTED:
                if self.values[place] != value:
                    self.put(place, value)
            elif not self._states(place):
                self.put(place, value, is_assumed=True)
        if not fitted & set(SUN):
            if self.values["night.begins"] == "dusk":
                self.put("night.begins", "order")
        elif not self._states("limits.start_voltage"):
            seen = {**self.values, **{place: found[place] for place in _FITTED}}
            for place, value in scaling.start(seen).items():
                self.put(place, value)

    def _states(self, place: str) -> bool:
        section, _, name = place.partition(".")
        return name in self.document.get(section, {})
