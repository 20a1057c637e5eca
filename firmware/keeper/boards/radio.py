"""The wireless board's radio: its own access point on a long press, or a network it joins.

Contract: nothing here waits for the radio; every call that may block for some
100 ms is a piece of its own, made between scans and not while the keeper is
busy (it counts like a write to flash); a network is joined at standstill only.
A radio that fails is off until it is asked for again, or until the next
attempt to join: it never ends the program.  Not tried on a radio.

The access point is open to a press of the button that is longer than any that
means something else, for ON_MS.  With a key on the board its password follows
from the key; without one it is open, and takes no orders.
"""

from keeper.operation.button import LONG_MOST_PERIODS
from keeper.clock import TICKS_MASK
from keeper.modes import STANDSTILL
from keeper.link.signing import access_password
from keeper.link.tcp import PORT

ON_MS = 600000          # ten minutes
JOIN_MS = 20000         # the radio itself would try for ever
# Pauses between attempts to join, doubled after each.
PAUSE_MS, PAUSE_MOST_MS = 60000, 3600000
LOOK_MS = 5000          # between two looks whether the network is still there
NAME = "forebay-%d"
BACKLOG = 2

OFF, ACCESS, JOINING, JOINED = range(4)


class Radio:
    """A port of the loop round a `keeper.link.tcp.TcpPort`.

    Attributes: state (OFF, ACCESS, JOINING, JOINED); failures, of the radio.
    """

    def __init__(self, keeper, port, system, key=None, known=None):
        """Take the keeper, the port and `system` (see `modules`).

        key: the board's, or None; known: (name, password) of a network to
        join, or None.
        """
        self.keeper = keeper
        self.port = port
        self.network, self.sockets = system
        self.key = key
        self.known = known
        self.name = NAME % keeper.settings[0]  # the rig's identity
        self.wlan = None
        self.state = OFF
        self.since_ms = 0        # ticks at which the state began
        self.looked_ms = 0
        self.pause_ms = 0        # until the next attempt to join
        self.next_pause_ms = PAUSE_MS
        self.was_held = False    # this press has had its effect
        self.failures = 0

    # What the loop wants of a port

    def is_busy(self):
        """Return whether a reply is on its way out."""
        return self.port.is_busy()

    def is_in_use(self, now_ms):
        """Return whether a client has just asked."""
        return self.port.is_in_use(now_ms)

    def work(self, now_ms):
        """Do one piece at `now_ms` [ticks]; return whether there was one."""
        if not self.keeper.busy:
            try:
                if self._switch(now_ms):
                    return True
            except Exception:  # noqa: BLE001 - the radio's errors are of many kinds
                self.failures += 1
                self._off(now_ms)
                return True
        return self.port.work(now_ms)

    def is_asked_for(self):
        """Return True once for each press that is longer than all others."""
        held = self.keeper.core.sequence.button.released and (
            self.keeper.core.sequence.button.held_periods > LONG_MOST_PERIODS)
        asked = held and not self.was_held
        self.was_held = held
        return asked

    def _switch(self, now_ms):
        """Change the state if it is time; return whether it was."""
        passed_ms = (now_ms - self.since_ms) & TICKS_MASK
        if self.is_asked_for():
            self._off(now_ms)
            self._open_access(now_ms)
            return True
        if self.state == ACCESS:
            if passed_ms < ON_MS:
                return False
            self._off(now_ms)
            self.pause_ms = 0
            return True
        if self.known is None:
            return False
        if self.state == OFF:
            # While something runs, no scan shall wait for the radio to begin.
            if passed_ms < self.pause_ms or self.keeper.state != STANDSTILL:
                return False
            self._join(self.known, now_ms)
            return True
        if (now_ms - self.looked_ms) & TICKS_MASK < LOOK_MS:
            return False
        return self._look(self.wlan, now_ms, passed_ms)

    def _open_access(self, now_ms):
        wlan = self.wlan = self.network.WLAN(self.network.WLAN.IF_AP)
        if self.key:
            wlan.config(ssid=self.name, key=access_password(self.key),
                        security=self.network.WLAN.SEC_WPA_WPA2)
        else:
            wlan.config(ssid=self.name, security=self.network.WLAN.SEC_OPEN)
        wlan.active(True)
        self._listen()
        self._enter(ACCESS, now_ms)

    def _join(self, known, now_ms):
        wlan = self.wlan = self.network.WLAN(self.network.WLAN.IF_STA)
        wlan.active(True)
        wlan.config(pm=self.network.WLAN.PM_NONE)  # else it is not heard after idle hours
        wlan.connect(known[0], known[1])
        self._enter(JOINING, now_ms)

    def _look(self, wlan, now_ms, passed_ms):
        """See whether the network is there; return whether the state changed."""
        self.looked_ms = now_ms
        there = wlan.isconnected()
        if self.state == JOINING and there:
            self._listen()
            self._enter(JOINED, now_ms)
            self.next_pause_ms = PAUSE_MS
            return True
        if there or (self.state == JOINING and passed_ms < JOIN_MS):
            return False
        self._off(now_ms)
        return True

    def _listen(self):
        listener = self.sockets.socket()
        try:
            listener.setsockopt(self.sockets.SOL_SOCKET, self.sockets.SO_REUSEADDR, 1)
            listener.bind(("0.0.0.0", PORT))  # numeric: a name would be looked up
            listener.listen(BACKLOG)
        except OSError:
            listener.close()
            raise
        self.port.open(listener)

    def _enter(self, state, now_ms):
        self.state = state
        self.since_ms = self.looked_ms = now_ms

    def _off(self, now_ms):
        """Switch off; the next attempt to join comes after a pause that grows."""
        self.port.close()
        wlan, self.wlan = self.wlan, None
        self.pause_ms = self.next_pause_ms
        self.next_pause_ms = min(PAUSE_MOST_MS, 2 * self.next_pause_ms)
        self._enter(OFF, now_ms)
        if wlan is not None:
            try:
                wlan.active(False)
            except Exception:  # noqa: BLE001 - it is left as it is
                self.failures += 1


def read_network(path):
    """Return (name, password) of the network to join from a file of two lines, None without."""
    try:
        with open(path) as file:
            lines = file.read().split("\n")
    except (OSError, ValueError):
        return None
    if len(lines) < 2 or not lines[0]:
        return None
    return lines[0], lines[1]


def modules():
    """Return (network, socket), which only wireless boards have."""
    import network
    import socket
    return network, socket
