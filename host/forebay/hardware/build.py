"""One rig's hardware, put together once: what all its sheets are drawn from."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from forebay.hardware import cables, fitting, readings, sizing, tables
from forebay.hardware.netlist import Netlist
from forebay.rig import Rig


@dataclass(frozen=True)
class Build:
    """A rig with its circuit."""

    rig: Rig
    netlist: Netlist

    @classmethod
    def of(cls, rig: Rig) -> "Build":
        """Return the hardware of a rig; CircuitError if a part for it is not made."""
        return cls(rig, fitting.circuit(rig))

    @cached_property
    def values(self) -> dict[str, Any]:
        """The rig as "section.key_unit" [SI]."""
        return self.rig.plant()

    @property
    def parts(self) -> Mapping[str, Any]:
        """The table of parts."""
        return tables.load("parts")

    @cached_property
    def figures(self) -> dict[str, float]:
        """The worst that its parts may meet, by name."""
        return sizing.figures(self.values)

    @cached_property
    def points(self) -> list[readings.Point]:
        """Its test points, one of a net."""
        return readings.points(self.netlist, self.values, self.figures)

    @cached_property
    def away(self) -> list[readings.Point]:
        """Its test points at far ends of nets that have another in the box."""
        return readings.away(self.netlist, self.values, self.figures)

    @cached_property
    def cables(self) -> list[cables.Cable]:
        """Its cables."""
        return cables.cables(self.netlist, self.values, self.figures)

    @cached_property
    def named(self) -> dict[str, Any]:
        """What a sentence of a sheet may name: figures, the stop's poles, pins that drive."""
        return {**readings.windows_of(self.values, self.figures),
                "stop_poles": readings.counted(
                    sum(part.row == "local stop" for part in self.netlist), "pole"),
                "driver_pins": ", ".join(readings.driven(self.netlist))}

    @property
    def name(self) -> str:
        """Its name."""
        return self.values["rig.name"]
