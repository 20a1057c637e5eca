"""From TOML to values by "section.key_unit", with every fault of the file at once."""

import difflib
import functools
import tomllib
from collections.abc import Mapping
from operator import le, lt
from typing import Any

from forebay.errors import InputError
from forebay.rig import assumed, checks, compiling, machines, wired
from forebay.rig.keys import OPTIONAL, REQUIRED, Derived, Key, Section
from forebay.rig.reading import Refused, read, shown, shown_name
from forebay.rig.schema import KEYS, NAME_OF, PLACE_OF, SCHEMA, SECTIONS

# A command asks for the same few descriptions again and again.
_TEXTS_KEPT = 32

# Keys that the description says in one other place: "section.key" -> that place.
ELSEWHERE = {f"board.{name}": place for name, (place, _) in wired.SAID_BY.items()}


class RigError(InputError):
    """A description that cannot be used; one line for each fault, in `faults`."""

    def __init__(self, faults: list[str]):
        super().__init__("\n".join(faults))
        self.faults = faults

    def lines(self) -> list[str]:
        """Return one line for each fault."""
        return self.faults


def parse(text: str, name: str, is_kept: bool = False) -> dict[str, Any]:
    """Return the values of a description by "section.key_unit" [SI]; None = absent.

    text: TOML; name: of the file, for errors; is_kept: it was taken by an earlier
    forebay, so it is refused only where a value cannot be read.
    Raises RigError with one line for each fault.
    """
    try:
        values, faults = _values_of_text(text)
    except (ValueError, RecursionError) as error:
        reason = " ".join(str(error).split())
        raise RigError([f"{name}: this is not TOML: {reason}; mend it there"]) from None
    if faults and not (is_kept and values.keys() >= NAME_OF.keys()):
        raise RigError([f"{name}: {fault}" for fault in faults])
    return {place: list(value) if isinstance(value, list) else value
            for place, value in values.items()}


@functools.lru_cache(maxsize=_TEXTS_KEPT)
def _values_of_text(text: str) -> tuple[dict[str, Any], list[str]]:
    """Return what `values_of` does for a text; raises what tomllib does. Not to be changed."""
    return values_of(tomllib.loads(text))


def values_of(source: Mapping[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """Return (values by "section.key_unit" [SI], one line for each fault) of parsed TOML."""
    reader = _Reader(source)
    reader.read()
    return reader.values, reader.faults


def faults_of(values: Mapping[str, Any]) -> list[str]:
    """Return what would be refused in a description of these values, one line for each fault.

    values: by "section.key_unit" [SI], as `Rig.plant` gives them, changed or not.
    """
    reader = _Reader({})
    reader.values = {place: values.get(place) for place in NAME_OF}
    for place, key in PLACE_OF.items():
        value = values.get(key)
        if isinstance(value, float) and not _is_within(value, KEYS[place]):
            reader.faulty.add(place)
            reader.faults.append(f"{place} = {value:.4g}: must be {KEYS[place].allowed}")
    reader.judge()
    return reader.faults


def _is_within(value: float, key: Key) -> bool:
    low, high = key.bounds
    return low <= value <= high


class _Reader:
    """Reads one document; `values` and `faults` hold what was found."""

    def __init__(self, source: Mapping[str, Any]):
        self.source = source
        self.values: dict[str, Any] = {}
        self.faults: list[str] = []
        self.faulty: set[str] = set()  # the keys at fault

    def read(self) -> None:
        meant = self._unknown(self.source, (*SECTIONS, assumed.SECTION), "section", "[{}]")
        for section in SCHEMA:
            self._section(section, section.name in meant)
        self.faults += assumed.faults(self.source, self._is_told)
        self.judge()

    def judge(self) -> None:
        """Note what must hold between the values that were read, and what follows from them."""
        self._compare()
        for key, reason in checks.faults(self.values, self._is_told):
            self._fault(key, reason)
        for key, reason in machines.faults(self.values, self._is_told):
            self._fault(key, reason)
        self._compile()

    def _section(self, section: Section, misspelt: bool) -> None:
        content = self.source.get(section.name)
        needed = any(key.default is REQUIRED and not key.shape for key in section.keys)
        if content is None and needed:
            if not misspelt:
                self.faults.append(f"[{section.name}]: missing section; add it, see"
                                   " host/docs/rig.md")
            return
        if not isinstance(content, Mapping | None):
            self.faults.append(f"{section.name} = {shown(content)}: must be a section, "
                               f"written [{section.name}]")
            return
        content = content or {}
        names = [key.name for key in section.keys]
        meant = self._unknown(content, names, "key", section.name + ".{}")
        for key in section.keys:
            self._key(section.name, key, content, key.name in meant)

    def _unknown(self, content, known, kind, form) -> set[str]:
        """Note every unknown name; return the known names that were probably meant."""
        meant = set()
        for name in content:
            if name in known:
                continue
            if place := ELSEWHERE.get(form.format(name)):
                self.faults.append(f"{form.format(name)} = {shown(content[name])}: "
                                   f"said by {place} alone; remove it here, and set it there")
                continue
            near = difflib.get_close_matches(name[:60], list(known), 1)
            hint = "remove it"
            if near:
                meant.add(near[0])
                hint = f"did you mean {form.format(near[0])}?"
            self.faults.append(f"{form.format(shown_name(name))}: unknown {kind}; {hint}")
        return meant

    def _key(self, section: str, key: Key, content, misspelt: bool) -> None:
        place = f"{section}.{key.attribute}"
        if key.name in content:
            if self._belongs(section, key):
                self._read(f"{section}.{key.name}", place, key, content[key.name])
            return
        if key.shape and self.values.get(f"{section}.shape") != key.shape:
            self.values[place] = None
        elif isinstance(key.default, Derived):
            self._derive(f"{section}.{key.name}", place, key, key.default, misspelt)
        elif key.default is OPTIONAL:
            self.values[place] = None
        elif key.default is not REQUIRED:
            self.values[place] = read(key, key.default)
        elif not misspelt:
            self._missing(f"{section}.{key.name}", key)

    def _belongs(self, section: str, key: Key) -> bool:
        shape = self.values.get(f"{section}.shape")
        if not key.shape or shape is None or shape == key.shape:
            return True
        self.faults.append(f'{section}.{key.name}: does not go with shape = "{shape}", '
                           f'only with "{key.shape}"; remove it')
        return False

    def _read(self, name: str, place: str, key: Key, raw) -> None:
        try:
            self.values[place] = read(key, raw)
        except Refused as error:
            for item, value, reason in error.items or (("", raw, error.reason),):
                self.faulty.add(name)
                self.faults.append(f"{name}{item} = {shown(value)}: {reason}")

    def _derive(self, name, place, key: Key, default: Derived, misspelt: bool) -> None:
        try:
            value = default.rule(self.values)
        except (KeyError, ValueError):  # what it follows from is at fault itself
            return
        if value is None:
            if not misspelt:
                self._missing(name, key)
            return
        low, high = key.bounds
        if low <= value <= high:
            self.values[place] = value
        else:
            unit = f" {key.unit}" if key.unit else ""
            self._fault(name, f"its default, {default.text}, comes to {value:.4g}{unit}, which "
                        f"must be {key.allowed}; state it, or change what it follows from")

    def _missing(self, name: str, key: Key) -> None:
        self.faulty.add(name)
        self.faults.append(f"{name}: missing; set {key.allowed}")

    def _compare(self) -> None:
        """Note pairs that stand the wrong way round, and of each key the first of them alone."""
        for lower, sign, upper in checks.ORDERED:
            low, high = (self.values.get(PLACE_OF[key]) for key in (lower, upper))
            if low is None or high is None or (lt if sign == "<" else le)(low, high):
                continue
            if self.faulty & {lower, upper}:
                continue
            self.faulty.add(upper)
            relation = "must be below" if sign == "<" else "must not be above"
            self._fault(lower, f"{relation} {upper}{self._stated(upper)}")

    def _compile(self) -> None:
        """Note what the board would refuse, where nothing behind it is told already."""
        for keys, reason in (*compiling.faults(self.values), *wired.faults(self.values)):
            if not any(self._is_told(key) for key in keys):
                stated = ", ".join(f"{key}{self._stated(key)}" for key in keys)
                self.faulty.update(keys)
                self.faults.append(f"{stated}: {reason}")

    def _is_told(self, key: str) -> bool:
        """Return whether a key, or one of a section, is at fault already."""
        return any(at_fault == key or at_fault.startswith(key + ".") for at_fault in self.faulty)

    def _fault(self, key: str, reason: str) -> None:
        self.faulty.add(key)
        self.faults.append(f"{key}{self._stated(key)}: {reason}")

    def _stated(self, key: str) -> str:
        section, _, name = key.partition(".")
        content = self.source.get(section, {})
        return f" = {shown(content[name])}" if name in content else ""
