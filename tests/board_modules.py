"""The modules that a Pico with MicroPython 1.29 has, as far as firmware may use them."""

# Compiled or frozen into the rp2 port (MicroPython's documentation: library index,
# and quick reference for the RP2), without threads and asyncio, which firmware
# does not use. test_import_rules.py compares it with the port's published stubs.
HARDWARE_MODULES = frozenset(
    {"dht", "ds18x20", "machine", "neopixel", "network", "onewire", "rp2", "socket"}
)
BOARD_MODULES = HARDWARE_MODULES | {
    "array", "binascii", "builtins", "cmath", "collections", "deflate", "errno", "framebuf",
    "gc", "hashlib", "heapq", "io", "json", "math", "micropython", "os", "platform", "random",
    "re", "select", "struct", "sys", "time", "uctypes", "vfs", "_asyncio",
}  # fmt: skip
