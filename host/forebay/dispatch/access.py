"""The wireless board's own access point, as a person needs it: name, password, address."""

from dataclasses import asdict, dataclass

from forebay.dispatch import keys
from forebay.dispatch.errors import DispatchError
from forebay.rig import load
from keeper.boards.radio import NAME
from keeper.link.tcp import PORT

# Where the interpreter's access point has itself, if nobody says otherwise (from memory).
ADDRESS = "192.168.4.1"


@dataclass(frozen=True)
class Access:
    """An access point.  Attributes: network, its name; password, None if it is open; port."""

    network: str
    password: str | None
    port: str = f"{ADDRESS}:{PORT}"

    def as_json(self) -> dict:
        """Return it as documented in docs/json.md."""
        return asdict(self)

    def lines(self) -> list[str]:
        """Return it as lines for a terminal."""
        found = [f"network: {self.network}"]
        found.append(f"password: {self.password}" if self.password
                     else "It is open: the board has no key from this computer.")
        return [*found, f"then: --port {self.port}"]


def access_of(rig_path: str | None) -> Access:
    """Return the access point of a rig's board; DispatchError if no rig is named."""
    if not rig_path:
        raise DispatchError("say which rig: --rig RIG.toml")
    rig_id = load(rig_path).rig_id
    key = keys.maybe_key(rig_id)
    return Access(NAME % rig_id, key.access_password if key else None)
