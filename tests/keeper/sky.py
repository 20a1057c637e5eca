"""The wishes for light alone, under a panel voltage."""

from keeper import channels as ch
from keeper import modes as mo
from keeper.events import EventQueue
from keeper.operation.light import Light
from tests.keeper.scripted import settings_with

DARK_S = 5  # dark_s of the scripted rig


class Sky:
    """The wishes for light alone, under a panel voltage."""

    def __init__(self, **changes):
        self.values = [0] * ch.READ
        self.events = EventQueue(16, self.values, ch.COLUMNS)
        self.light = Light(settings_with(tuple(changes.items())), self.events)
        self.uptime_ds = 0

    def show(self, panel_mV, scans=1, periods=1):
        self.values[ch.PANEL_MV] = panel_mV
        for _ in range(scans):
            self.uptime_ds += periods
            self.events.begin_scan(mo.STANDSTILL, self.uptime_ds)
            self.light.pass_time(self.values, periods)
        return self.light

    def fall_night(self):
        self.show(10_000, 200)
        return self.show(0, DARK_S * 10)

    def told(self, code):
        return [slot[:3] for slot in self.events.slots if slot[0] == code]
