"""All checks of keeper.physics against the outside, and what they must cover."""

import importlib
import inspect
import pathlib

import keeper.physics
from tests.reference import (
    physics_lines,
    physics_machines,
    physics_signals,
    physics_sun,
    physics_tanks,
    physics_water,
)
from tests.reference.model import PACKAGE, Check

CHECKS: tuple[Check, ...] = (
    *physics_water.CHECKS,
    *physics_tanks.CHECKS,
    *physics_lines.CHECKS,
    *physics_sun.CHECKS,
    *physics_machines.CHECKS,
    *physics_signals.CHECKS,
)

# Public names with nothing to compare: why, and where they are tested instead.
NOT_A_QUANTITY = {
    **{f"of_rig.{name}": "names of a description; tests/physics/test_machines.py"
       for name in ("water", "tank", "solar_pump", "turbine_set", "motor_heat")},
    **{f"solar_pump.SolarPump.{name}": "needs a sun; tests/physics/test_machines.py"
       for name in ("rest_V", "run_m3_s", "losses_W")},
    "checks.require": "a refusal; tests/physics/test_ranges.py",
    "checks.require_within": "a refusal; tests/physics/test_ranges.py",
    "checks.require_rising": "a refusal; tests/physics/test_ranges.py",
    "solve.rising_root": "takes a function; tests/physics/test_signal_properties.py",
}


def module_names() -> list[str]:
    """Names of the modules in keeper.physics, sorted."""
    folder = pathlib.Path(keeper.physics.__path__[0])
    return sorted(path.stem for path in folder.glob("*.py") if path.stem != "__init__")


def public_targets() -> list[str]:
    """Every public function, class and method defined in keeper.physics, as targets."""
    found = []
    for module_name in module_names():
        module = importlib.import_module(f"{PACKAGE}.{module_name}")
        for name, thing in vars(module).items():
            if name.startswith("_") or getattr(thing, "__module__", None) != module.__name__:
                continue
            found.append(f"{module_name}.{name}")
            if inspect.isclass(thing):
                found += [
                    f"{module_name}.{name}.{method}"
                    for method, body in vars(thing).items()
                    if not method.startswith("_") and inspect.isfunction(body)
                ]
    return found


def checks_of(target: str) -> list[Check]:
    """Checks that bear on a target; a class without its own has those of its methods."""
    own = [check for check in CHECKS if check.target == target]
    return own or [check for check in CHECKS if check.target.startswith(target + ".")]
