"""Who does what on a random day: orders, presses, the stop, a fault; and the care of a person."""

from keeper.operation import orders
from tests.campaign import expected, singles

DAY_S = 86400
FAULT_SHARE = 0.4
ACTIONS_A_DAY = 8


class Script:
    """Who does what, when: (second, action, arguments), from a random.Random."""

    def __init__(self, draw, with_faults, steps_mW, names=expected.NAMES):
        """Takes the draws, whether faults come, the rig's brightness steps [mW], its faults."""
        self.fault = ""
        self.steps_mW = steps_mW
        self.steps = sorted((draw.randrange(DAY_S), *self._action(draw))
                            for _ in range(draw.randint(0, ACTIONS_A_DAY)))
        if with_faults and draw.random() < FAULT_SHARE:
            self.fault = draw.choice(names)
            self.steps.append((draw.randrange(DAY_S), "fault", (self.fault,)))
            self.steps.sort()

    def spare_stop(self):
        """Nobody presses the stop: for a board that does not read it a press is as a fault."""
        self.steps = [step for step in self.steps if step[1] != "stop"]

    def presses_stop(self):
        """Returns whether somebody presses the stop."""
        return any(step[1] == "stop" for step in self.steps)

    def _action(self, draw):
        wish = draw.choice(("order", "order", "order", "press", "hold", "stop", "maintain"))
        if wish == "order":
            return "order", draw.choice((
                (orders.LIGHT, draw.choice(self.steps_mW), draw.randint(1, 300)),
                (orders.REST, draw.randint(1, 300), 0),
                (orders.BRIGHTNESS, draw.randint(1, 4), draw.randint(1, 300)),
                (orders.LAST, draw.choice((0, 60, 300, 600)), 0),
                (orders.PUMP_ALLOWED, draw.randint(0, 1), draw.randint(0, 240)),
                (orders.DRAIN_DOWN, 1, draw.randint(1, 20)),
                (orders.RESET, 1, 0), (orders.RELEASE, 0, 0),
                (orders.CLOCK, 20000, draw.randrange(86400))))
        if wish == "press":
            return "press", (draw.choice((1, 1, 2)),)
        if wish == "hold":
            return "press", (draw.choice((4, 15, 60)),)
        if wish == "stop":
            return "stop", (draw.randint(5, 1200),)
        return "maintain", (draw.randint(60, 3600),)


class Hand:
    """Carries the script out, and looks after the rig as a person would."""

    def __init__(self, twin, script, fault_came, reads_stop=True):
        """Takes twin, script, whom to tell of a fault, and whether the board reads the stop."""
        self.twin = twin
        self.reads_stop = reads_stop
        self.fault_came = fault_came
        self.todo = list(script.steps)
        self.cold = False

    def act(self, now_s):
        """Does what is due at a time [s]."""
        while self.todo and self.todo[0][0] <= now_s:
            _, action, arguments = self.todo.pop(0)
            getattr(self, "_" + action)(now_s, *arguments)

    def _later(self, now_s, after_s, action, *arguments):
        self.todo.append((now_s + after_s, action, arguments))
        self.todo.sort(key=lambda one: one[0])

    def _order(self, _, code, a, b):
        if not self.cold:  # nobody wants light from a tank that he has shut
            self.twin.order(code, a, b)

    def _press(self, now_s, seconds):
        if self.cold:
            return
        self.twin.press(1)
        self._later(now_s, seconds, "let_go")

    def _let_go(self, _):
        self.twin.press(0)

    def _stop(self, now_s, seconds):
        self.twin.stop(True)
        self._later(now_s, seconds, "free")

    def _free(self, *_):
        self.twin.stop(False)
        if not self.reads_stop:    # as the rig's own summary says
            self.twin.order(orders.RESET, 1)

    def _maintain(self, now_s, seconds):
        self.twin.order(orders.MAINTAIN, 2)
        self._later(now_s, seconds, "go_on")

    def _go_on(self, _):
        self.twin.order(orders.MAINTAIN, 0)

    def _fault(self, _, name):
        self.fault_came()
        singles.bring_on(self.twin, name)

    def look(self, cold):
        """Empties the pipes on the alarm of cold; opens the tank again when it is over."""
        twin = self.twin
        plant = twin.plant
        if cold and (not self.cold or plant.frost.full):
            twin.tank(False)
            twin.order(orders.REST, orders.DAY_MIN)
            if twin.order(orders.DRAIN_DOWN, 1, 15) != orders.DONE or twin.plant.thermostat_open:
                if plant.frost.full:  # by its cock, by hand
                    plant.frost.full = False
                    plant.penstock.empty(plant.lower)
        elif self.cold and not cold:
            twin.tank(True)
            twin.order(orders.RELEASE, 0)
        self.cold = cold
