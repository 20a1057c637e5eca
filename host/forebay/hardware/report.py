"""What is said of a rig's hardware: how much there is of it, what is wrong, what is tightest."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from forebay.errors import InputError
from forebay.hardware import duty, rules
from forebay.hardware.build import Build

TIGHTEST = 5


class HardwareError(InputError):
    """A rig whose hardware would not stand it: one line for each thing."""

    def __init__(self, name: str, findings: Iterable[rules.Finding]):
        self.findings = tuple(findings)
        super().__init__(f"{name}: do not build it so")

    def lines(self) -> list[str]:
        """Return one line for each thing that is wrong."""
        return [str(self), *map(str, self.findings)]


@dataclass(frozen=True)
class Report:
    """A rig's hardware in short."""

    build: Build
    sheets: tuple[str, ...]
    findings: tuple[rules.Finding, ...]
    stresses: tuple[duty.Stress, ...]

    def lines(self) -> list[str]:
        """Return it as text of 80 columns."""
        netlist, cables = self.build.netlist, self.build.cables
        outside = sum(part.at != "box" for part in netlist)
        tight = sorted((one for one in self.stresses if one.unit not in ("degC", "mm")),
                       key=lambda one: one.margin - one.least)[:TIGHTEST]
        return [
            f"{self.build.name}: {len(netlist.parts)} parts, {outside} of them outside the box",
            f"{len(cables)} cables, {sum(one.length_m for one in cables):.0f} m;"
            f" {sum(bool(core.terminal) for one in cables for core in one.cores)} terminals;"
            f" {len(self.build.points)} test points",
            f"fuse: {', '.join(part.value for part in netlist.of_kind('fuse'))}",
            "tightest, rated and worst:",
            *(f"  {one.who[:32]:32} {one.what[:22]:22} {float(f'{one.rated:.3g}'):8g}"
              f" {float(f'{one.worst:.3g}'):8g} {one.unit}" for one in tight),
            "None of it has been built: not tried. Local codes and licensed practice come",
            "first; hardware/commissioning.md is the gate before water and sun.",
        ]

    def as_json(self) -> dict[str, Any]:
        """Return it as a document."""
        return {
            "rig": self.build.name,
            "sheets": list(self.sheets),
            "findings": [one._asdict() for one in self.findings],
            "parts": [{"id": part.id, "kind": part.kind, "value": part.value, "at": part.at,
                       "pins": dict(part.pins)} for part in self.build.netlist],
            "margins": [{"who": one.who, "what": one.what, "rated": one.rated, "worst": one.worst,
                         "unit": one.unit, "least": one.least, "holds": one.holds}
                        for one in self.stresses],
        }

    def raise_if_wrong(self) -> None:
        """Raise HardwareError with one line for each thing that is wrong, if any is."""
        if self.findings:
            raise HardwareError(self.build.name, self.findings)


def of(build: Build, sheets: Iterable[str]) -> Report:
    """Return the report of a rig; sheets: their names."""
    return Report(build, tuple(sheets), tuple(rules.check(build)),
                  tuple(duty.stresses(build.netlist, build.values, build.figures)))
