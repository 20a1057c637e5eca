"""Loaders that this project released before: they are replaced without being asked for.

SHA-256 of each version of firmware/boot.py and firmware/main.py, with the
commit it came with.  What is not listed may be somebody's own work.  The
newest version stands here too, for the releases that come after it: a test
compares.
"""

RELEASED = {
    "/boot.py": {
        "28b91e273c0ba3446f1a65c467b78ce0de21d2690236da0c25c3518c3a35d0fd": "0a362fb",
    },
    "/main.py": {
        "4a556c57e7372c6de3f5f195b12fd8fa6eb249e810b3dbf0da2b54016f8dcb1d": "0a362fb",
        "87886e59cd240a5badea04454e4e94d6bb3789a542baf7f25609674697457fbf": "930f828",
        "6980361c9621b7586447f6fc181c00d99e3ef946da573d4d1c7f039ddb36cd46": "b5f69f7",
        "634a081e96ab0d8bce17c73edf486bf53ca8737de1fd360ece32561ade83e1bc": "61f787d",
        "5150d10b1e566d49b9247b8f45ee829f1899b2911c9b60d8fdf84d4900ec327f": "the next release",
    },
}


def is_ours(path: str, sha256: str) -> bool:
    """Return whether a file of the loader, path on the board, is one that was released."""
    return sha256 in RELEASED.get(path, {})
