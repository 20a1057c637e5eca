"""Draws the register map's page: python -m forebay.docs.registers > host/docs/registers.md."""

import sys

from forebay.wire.registers import HOLDING_REGISTERS, INPUT_REGISTERS
from forebay.words.link import GATE, JOURNAL_STATES, RESET_REASONS
from forebay.words.measured import CONTACTS, REASONS
from forebay.words.operation import ORDERS, REFUSALS, SAFE_REASONS, STATES
from forebay.words.protection import ELEMENTS
from keeper.channels import INVALID
from keeper.link import desk, pdu, tcp
from keeper.link.layout import ERROR_FILE, MAP_VERSION, ORDER_WORDS
from keeper.link.rtu import SILENCE_MS
from keeper.link.signing import PURPOSE
from keeper.operation import orders

BLOCKS = {
    "status": "State and status", "value": "Live values", "output": "Outputs",
    "total": "Totals", "derived": "Derived values", "first": "Inputs of the first-out",
    "identity": "Identity and room", "desk": "Orders: what became of them",
    "wish": "Orders: what they have brought about",
}


# Reasons why a reading cannot be trusted, with their numbers.
UNTRUSTED = ", ".join(f"{number} {text}" for number, text in REASONS.items())

HEAD = f"""# Register map

Written by `python -m forebay.docs.registers`; do not edit. Map version {MAP_VERSION}.

The keeper is a Modbus server ("MODBUS Application Protocol" V1.1b3). On USB serial and RS-485
it speaks RTU frames, 8N1; on the wireless board Modbus over TCP, port {tcp.PORT}, for
{tcp.SLOTS} clients at once, each of which is let go after {tcp.IDLE_MS // 1000} s without a
whole request ({tcp.NEW_IDLE_MS // 1000} s before its first one), and the one that asked nothing
for longest when another comes. Reading is open to everybody; orders are not.

| function | what it is for | most at once |
|---|---|---|
| 3 | read holding registers: the order that is being written | {ORDER_WORDS} registers |
| 4 | read input registers: all that is below | {pdu.READ_MOST} registers |
| 6, 16 | write holding registers: an order | {ORDER_WORDS} registers |
| 20 | read file records: the journal ([journal.md](journal.md)), the last error | 121 words |

Addresses are those of the protocol, counted from 0. **Types**: u is without sign, i with sign
(two's complement), then the bits; wider values take several registers, **the most significant
word first**. Values are whole numbers in the unit that is given: no scaling but that.
Registers between those listed are reserved and read 0. A reading that cannot be trusted is
{INVALID} plus the number of its reason: {UNTRUSTED}.

**Frames** on a serial line are found by function code, length and CRC, not by silence;
{SILENCE_MS} ms without a byte end what cannot become a frame. A frame with a bad CRC gets no
answer. On RS-485 the board has the unit and the speed of `[link]` in the rig's description,
and a frame for another unit gets no answer; over USB it answers every unit from 1 to 247, over
TCP any. **Broadcasts** (unit 0) on a serial line are not answered and not carried out, orders
included. Over TCP a head that cannot be one ends the connection.

The text of **the last error** that ended a start is file {ERROR_FILE}, in UTF-8, of
some lines; a last odd byte is followed by a 0. Without one there is no such file.

| exception | when |
|---|---|
| 1 | a function that is not in the table above |
| 2 | an address or a file that is not there, or the end of a file |
| 3 | a count, length or value that is not allowed |
| 4 | the flash failed |
| 6 | a write to flash is due (files), or an order waits already (orders): ask again |
"""

ORDERING = """## Orders

An order is the block of holding registers below. Writing 1 to `order_go`, best in one request
with all of it, lays it on the desk; the answer says only that. It is judged between scans,
within some of them, and what came of it stands in the input registers: once the keeper has
judged it `last_tag` is the tag that was sent, and `last_result` tells; if the desk refused it
`refused_tag` is, and `last_gate` tells. What the desk refuses changes nothing of the former.

| address | name | type | value | meaning |
|---|---|---|---|---|
""" + "\n".join(
    f"| {row[0]} | `{row[1]}` | {row[2]} | {row[3]} | {row[4]} |"
    for row in HOLDING_REGISTERS) + f"""

**Signature**: HMAC-SHA256 (RFC 2104) under the rig's key of 32 bytes, over the {len(PURPOSE)}
bytes `{PURPOSE.decode()}`, `order_nonce` (16 bytes), then `order_number`, `order_tag` (u32
each), `order_code` (u16), `order_a`, `order_b` (i32 each), all most significant byte first.
`order_key_id` is the first 4 bytes of SHA-256 over `forebay key` and the key.

The nonce changes with every order that passes, with every start and every
{desk.NONCE_LIFE_DS // 10} s; an order carries the nonce that was read and the number
`orders_passed + 1`. So none passes twice, late, out of turn, or at another board. A board
**without a key** takes orders over USB only, where whoever is there could flash it as well,
and no reset of a lockout; with a key that is unreadable it takes none. Refused orders are
counted and leave nothing in the journal.

| number | why the desk refused it (`last_gate`) |
|---|---|
""" + "\n".join(f"| {number} | {text} |" for number, text in GATE.items()) + """

| code | order | `order_a` | from | to | `order_b` | from | to |
|---|---|---|---|---|---|---|---|
""" + "\n".join(
    f"| {code} | {ORDERS[code].name} | {ORDERS[code].a} | {a_low} | {a_high} |"
    f" {ORDERS[code].b} | {b_low} | {b_high} |"
    for code, a_low, a_high, b_low, b_high in orders.ORDERS) + """

| number | what the keeper said (`last_result`) |
|---|---|
""" + "\n".join(
    f"| {number} | {text} |" for number, text in REFUSALS.items()) + "\n"


def text() -> str:
    """Return the page."""
    parts = [HEAD, "## Input registers\n"]
    kind = None
    for row in INPUT_REGISTERS:
        if row.kind != kind:
            kind = row.kind
            parts.append(f"\n### {BLOCKS[kind]}\n\n| address | name | type | unit or coding"
                         " | meaning |\n|---|---|---|---|---|\n")
        parts.append(f"| {row[0]} | `{row[1]}` | {row[2]} | {row[3]} | {row[4]} |\n")
    parts += ["\n", _numbers(), "\n", ORDERING]
    return "".join(parts)


def _numbers():
    tables = (
        ("state", ((number, ": ".join(said)) for number, said in STATES.items())),
        ("first_out, lockout_element, bits of acting",
         ((number, f"{said.id}: {said.plain}") for number, said in ELEMENTS.items())),
        ("contacts", ((f"bit {bit}", ": ".join(said))
                      for bit, said in enumerate(CONTACTS.values()))),
        ("safe_reason", SAFE_REASONS.items()),
        ("reset_reason", RESET_REASONS.items()),
        ("journal_state", JOURNAL_STATES.items()),
    )
    parts = ["### Numbers that stand for something\n"]
    for name, rows in tables:
        parts.append(f"\n| number | {name} |\n|---|---|\n")
        parts += [f"| {number} | {said} |\n" for number, said in rows]
    return "".join(parts)


if __name__ == "__main__":
    sys.stdout.write(text())
