"""The rig drawn to scale: heights and sizes, with a person beside it, and the upper tank near by.

Heights are true, and so is the size of each thing; the way between the tanks is
drawn shorter than it is.  What stands or hangs there to carry them is not drawn.
"""

import math

from forebay.explain import plot
from forebay.explain.facts import Facts
from forebay.explain.saying import Saying
from forebay.paper import nice_step
from forebay.showing import in_digits, in_unit, unit_of
from keeper.physics import of_rig

PANEL_W_m2 = 200.0       # of a silicon panel in full sun; common practice, no source
SPAN = 0.36              # of a person's arms as drawn, over the height
TALLEST, WIDEST = 380.0, 170.0   # of all heights; of tanks, panel and person side by side
LEAST_PANEL = 14.0       # of its side [units]
SMALLEST = 3.0           # of a thing that is drawn [units]
LEFT, TOP, FOOT = 40.0, 26.0, 30.0
NEAR_TALLEST, NEAR_WIDEST = 190.0, 120.0  # of the tank in the near view [units]
BESIDE = 18.0            # from that tank to the words beside it [units]

PARTS = ("upper tank", "lower tank", "pump and rising main", "panel", "penstock and valve",
         "turbine and lamps")


def rig_svg(facts: Facts, said: Saying) -> str:
    """Return the whole rig, to scale in height and in the size of its parts."""
    frame = _Frame(facts, said)
    parts = frame.heights()
    parts += frame.tank("upper", frame.upper_x) + frame.tank("lower", frame.lower_x)
    parts += frame.pipes() + frame.panel() + frame.person() + frame.numbers()
    return plot.figure(
        "rig", "The rig to scale",
        f"Upper tank {said(facts.values['upper.base_height_m'], 'length')} above the nozzle,"
        f" lower tank below it, a person of {said.everyday.tall} beside.",
        frame.bottom + FOOT, parts)


def width_m(values, name: str) -> float:
    """Return how wide a tank is drawn [m]: its length or diameter, or that of its mean area."""
    tank = of_rig.tank(values, f"{name}.")
    return values.get(f"{name}.length_m") or values.get(f"{name}.diameter_m") or math.sqrt(
        tank.capacity_m3 / tank.height_m)


class _Frame:
    """Where everything stands; y grows downwards, units of the drawing."""

    def __init__(self, facts: Facts, said: Saying):
        values = self.values = facts.values
        self.said, self.person_m = said, said.everyday.tall_m
        self.floor_m = values["lower.base_height_m"] + values["lower.height_m"]
        self.top_m = max(values["upper.inlet_height_m"],
                         values["upper.base_height_m"] + values["upper.height_m"],
                         self.floor_m + self.person_m)
        self.low_m = values["lower.base_height_m"]
        widths = {name: width_m(values, name) for name in ("upper", "lower")}
        side_m = math.sqrt(values["panel.power_W"] / PANEL_W_m2)
        tilt = math.radians(values["panel.tilt_deg"])
        self.scale = min(TALLEST / (self.top_m - self.low_m),
                         WIDEST / (sum(widths.values()) + side_m + SPAN * self.person_m))
        self.wide = {name: max(SMALLEST, one * self.scale) for name, one in widths.items()}
        side = max(LEAST_PANEL, side_m * self.scale)
        self.panel_wide, self.panel_tall = side * math.cos(tilt), side * math.sin(tilt)
        self.top = TOP
        self.bottom, self.over = self.y(self.low_m), self.y(values["upper.inlet_height_m"])
        self.panel_x = LEFT + 4.0
        self.lower_x = self.panel_x + self.panel_wide + 22.0
        self.person_x = plot.WIDTH - max(12.0, SPAN / 2 * self.person_m * self.scale)
        self.upper_x = (self.person_x - max(22.0, SPAN / 2 * self.person_m * self.scale + 4.0)
                        - self.wide["upper"])
        self.nozzle_x = self.lower_x + self.wide["lower"] + 12.0

    def y(self, height_m):
        return self.top + (self.top_m - height_m) * self.scale

    def heights(self):
        """The axis of heights above the nozzle, which is the scale."""
        step, unit = _step_m(self.top_m - self.low_m, 6, self.said)
        parts = [plot.text(0, 14, f"height above the nozzle [{unit}]", "axis")]
        first, last = math.ceil(self.low_m / step), math.floor(self.top_m / step)
        for count in range(first, last + 1):
            y = self.y(count * step)
            parts += [f'<line class="grid" x1="{LEFT - 8}" y1="{y:.1f}"'
                      f' x2="{plot.WIDTH}" y2="{y:.1f}"/>',
                      plot.text(LEFT - 12, y + 4, ("-" if count < 0 else "")
                                + in_digits(in_unit(abs(count * step), "length", unit)),
                                "tick end")]
        return parts

    def tank(self, name, x):
        """Walls, water when full, and where it stands when empty."""
        values, wide = self.values, self.wide[name]
        shape = of_rig.tank(values, f"{name}.")
        base_m = values[f"{name}.base_height_m"]
        low_m3 = values["upper.empty_volume_m3" if name == "upper" else "lower.low_volume_m3"]
        full, empty = (base_m + shape.level_m(one) for one in (
            values[f"{name}.full_volume_m3"], low_m3))
        top, bottom = self.y(base_m + values[f"{name}.height_m"]), self.y(base_m)
        return [_box("water", x, self.y(full), wide, bottom - self.y(full)),
                _box("water deep", x, self.y(empty), wide, bottom - self.y(empty)),
                _walls(x, top, bottom, wide)]

    def pipes(self):
        """The rising main to its end over the upper tank, the penstock down to the nozzle."""
        values = self.values
        up_x, end_x = self.lower_x + 6.0, self.upper_x + self.wide["upper"] / 2
        foot = self.y(self.low_m) - SMALLEST
        over = self.over
        out = self.y(values["upper.base_height_m"]) - 1.0
        jet = self.y(0.0)
        bend_x = self.upper_x - 26.0
        return [f'<path class="pipe up" d="M{up_x:.1f} {foot:.1f}V{jet - 4:.1f}'
                f'L{bend_x - 10:.1f} {over - 8:.1f}H{end_x:.1f}V{over:.1f}"/>',
                f'<circle class="machine" cx="{up_x:.1f}" cy="{foot:.1f}" r="4"/>',
                f'<path class="pipe down" d="M{self.upper_x:.1f} {out:.1f}H{bend_x + 6:.1f}'
                f'L{self.nozzle_x + 24:.1f} {jet:.1f}H{self.nozzle_x:.1f}"/>',
                f'<circle class="machine" cx="{self.nozzle_x - 6:.1f}" cy="{jet:.1f}"'
                f' r="{self.wheel():.1f}"/>']

    def wheel(self):
        return max(4.0, self.values["turbine.wheel_radius_m"] * self.scale)

    def panel(self):
        """The panel, a square of the area that its power takes, at its tilt, on the ground."""
        foot = self.y(self.floor_m)
        return [f'<path class="panel" d="M{self.panel_x:.1f} {foot:.1f}'
                f'l{self.panel_wide:.1f} {-self.panel_tall:.1f}"/>']

    def person(self):
        """A person, standing on the ground at the rim of the lower tank."""
        tall = self.person_m * self.scale
        x, feet = self.person_x, self.y(self.floor_m)
        head, arm, label = tall / 8, SPAN / 2 * tall, self.said.everyday.tall
        neck, hip = feet - tall + head, feet - 0.48 * tall
        return [f'<circle class="person" cx="{x:.1f}" cy="{feet - tall + head / 2:.1f}"'
                f' r="{head / 2:.1f}"/>',
                f'<path class="limbs" d="M{x:.1f} {neck:.1f}V{hip:.1f}'
                f'M{x:.1f} {hip:.1f}L{x - arm / 2:.1f} {feet:.1f}'
                f'M{x:.1f} {hip:.1f}L{x + arm / 2:.1f} {feet:.1f}'
                f'M{x - arm:.1f} {hip:.1f}L{x:.1f} {neck + head / 2:.1f}'
                f'L{x + arm:.1f} {hip:.1f}"/>',
                plot.text(min(x, plot.WIDTH - plot.wide(label) / 2), feet - tall - 5, label,
                          "tick mid"),
                f'<path class="ground" d="M{self.panel_x:.1f} {feet:.1f}H{self.lower_x:.1f}'
                f'M{self.lower_x + self.wide["lower"]:.1f} {feet:.1f}H{plot.WIDTH}"/>']

    def numbers(self):
        """The numbers of PARTS, each beside its part."""
        values = self.values
        base, jet = self.y(values["upper.base_height_m"]), self.y(0.0)
        places = (
            (self.upper_x + self.wide["upper"] + 13, base - values["upper.height_m"]
             * self.scale + 8),
            (self.lower_x + self.wide["lower"] / 2, self.bottom + 14),
            ((self.lower_x + 6 + self.upper_x - 36) / 2 - 16, (self.over + jet) / 2 - 4),
            (self.panel_x + 6, self.y(self.floor_m) - self.panel_tall - 12),
            ((self.nozzle_x + 24 + self.upper_x - 20) / 2 + 14, (base + jet) / 2 + 4),
            (self.nozzle_x + 8, jet - self.wheel() - 12))
        return [part for number, (x, y) in enumerate(places, 1) for part in _number(number, x, y)]


def _step_m(most_m, most, said):
    """Return a round step [m] with at most `most` to a length, and the unit it is round in."""
    unit = unit_of(most_m, "length", said.system)
    one_m = 1.0 / in_unit(1.0, "length", unit)
    return one_m * nice_step(most_m / one_m, most), unit


def _number(number, x, y):
    return (f'<circle class="tag" cx="{x:.1f}" cy="{y:.1f}" r="9"/>',
            plot.text(x, y + 4, str(number), "tagged mid"))


def _walls(x, top, bottom, wide):
    return f'<path class="wall" d="M{x:.1f} {top:.1f}V{bottom:.1f}h{wide:.1f}V{top:.1f}"/>'


def _box(style, x, y, wide, tall):
    return (f'<rect class="{style}" x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}"'
            f' height="{max(tall, 0.0):.1f}"/>')


def tank_svg(facts: Facts, said: Saying) -> str:
    """Return the upper tank near by: its water and the heights at which something happens."""
    values = facts.values
    shape, tall_m = of_rig.tank(values, "upper."), values["upper.height_m"]
    inlet_m = values["upper.inlet_height_m"] - values["upper.base_height_m"]
    wide_m, top_m = width_m(values, "upper"), max(inlet_m, tall_m)
    lines = [("end of the rising main", inlet_m)] + [
        (f"{name}, {said(values[f'upper.{key}_volume_m3'], 'volume')}",
         shape.level_m(values[f"upper.{key}_volume_m3"]))
        for name, key in (("overflow pipe", "overflow"), ("over-full float", "over_full"),
                          ("full: the pump stops", "full"), ("empty: light ends", "empty"))]
    x = 8.0
    room = plot.WIDTH - x - BESIDE - max(plot.wide(words) for words, _ in lines)
    scale = min(NEAR_TALLEST / top_m, min(NEAR_WIDEST, room) / wide_m)
    bottom = 36.0 + top_m * scale
    full, empty = (bottom - lines[place][1] * scale for place in (3, 4))
    wide, top = wide_m * scale, bottom - tall_m * scale
    parts = [_box("water", x, full, wide, bottom - full),
             _box("water deep", x, empty, wide, bottom - empty),
             _walls(x, top, bottom, wide)]
    places = plot.spread([bottom - level_m * scale for _, level_m in lines])
    for (words, level_m), place in zip(lines, places, strict=True):
        y = bottom - level_m * scale
        parts += [f'<path class="leader" d="M{x} {y:.1f}H{x + wide:.1f}L{x + wide + 14:.1f}'
                  f' {place:.1f}"/>', plot.text(x + wide + BESIDE, place + 4, words, "axis")]
    parts += _ruler(x, max(bottom, places[-1]) + 16, wide_m, scale, said)
    return plot.figure("tank", "The upper tank near by", "The heights in the upper tank at which"
                       " something happens: " + "; ".join(words for words, _ in lines) + ".",
                       max(bottom, places[-1]) + 44, parts)


def _ruler(x, y, wide_m, scale, said):
    """A bar of a round length."""
    step, _ = _step_m(wide_m, 2, said)
    return [f'<path class="wall" d="M{x} {y - 4:.1f}V{y + 4:.1f}M{x} {y:.1f}H'
            f'{x + step * scale:.1f}M{x + step * scale:.1f} {y - 4:.1f}V{y + 4:.1f}"/>',
            plot.text(x, y + 20, said(step, "length"), "tick")]
