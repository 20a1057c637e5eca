"""How fast a shelf decodes, beside reading the same numbers unpacked.

Run: python -m tests.bench.decode [DAYS].  The rows are those of the synthetic
noisy day of `tests.bench.density`, day after day.  The same numbers are read
three ways, on one core: decoded from the segments on a shelf, as `numpy.load`
reads one .npy file a column, and as pandas reads one Parquet file (pyarrow,
zstd, one thread).  A point is one of the 14 channels of a row; times are the best of five,
of the processor, so that other work on the machine does not count.
"""

import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from forebay.shelf import Rows, Shelf
from tests.bench import density
from tests.shelf import encoder

RUNS = 5
SEGMENT_MOST = 20000
CHANNELS = 14
DAYS = 100
RIG_ID = 7


def segments(days: int) -> list[bytes]:
    """Returns the detail segments of so many days."""
    packed = [record[8:-4] for record in density.packed(density.noisy_day())]
    found, data, seq = [], encoder.header(0, 1), 1
    for payload in packed * days:
        record = encoder.record(2, seq, payload)
        seq += payload[1]
        if len(data) + len(record) > SEGMENT_MOST:
            found.append(data)
            data = encoder.header(0, len(found) + 1)
        data += record
    return [*found, data]


def columns_of(rows: Rows) -> dict[str, np.ndarray]:
    """Returns what a row holds as columns by name."""
    fields = {name: getattr(rows, name) for name in
              ("seq", "boot", "uptime_ds", "scans", "state", "contacts")}
    return fields | {f"stored_{index}": rows.stored[index] for index in range(CHANNELS)}


def best_s(work) -> float:
    """Returns the least processor time [s] of several runs."""
    times = []
    for _ in range(RUNS):
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return min(times)


class Store:
    """The same rows on a shelf, as .npy files and as a Parquet file, in a folder."""

    def __init__(self, folder: Path, days: int):
        self.folder = folder
        self.shelf = Shelf(folder / "shelf.sqlite")
        for number, data in enumerate(segments(days), 1):
            self.shelf.put_segment(RIG_ID, 0, 0, number, data)
        self.rows = self.decoded()
        for name, values in columns_of(self.rows).items():
            np.save(folder / f"{name}.npy", values)
        pd.DataFrame(columns_of(self.rows)).to_parquet(self.parquet, compression="zstd")

    @property
    def parquet(self) -> Path:
        """The Parquet file."""
        return self.folder / "rows.parquet"

    def decoded(self) -> Rows:
        """Returns the rows as the shelf decodes them."""
        return self.shelf.journal(RIG_ID).rows

    def loaded(self) -> dict[str, np.ndarray]:
        """Returns the columns as numpy reads them."""
        return {name: np.load(self.folder / f"{name}.npy") for name in columns_of(self.rows)}

    def read(self) -> pd.DataFrame:
        """Returns the columns as pandas reads them, on one thread."""
        return pd.read_parquet(self.parquet, use_threads=False)


def figures(folder: Path, days: int) -> dict[str, float]:
    """Returns the figures that `main` prints."""
    store = Store(folder, days)
    points = len(store.rows) * CHANNELS
    decode_s, load_s, parquet_s = (best_s(way) for way in
                                   (store.decoded, store.loaded, store.read))
    store.shelf.close()
    return {
        "rows": len(store.rows),
        "decode_Mpoints_s": points / decode_s / 1e6,
        "numpy_load_Mpoints_s": points / load_s / 1e6,
        "parquet_Mpoints_s": points / parquet_s / 1e6,
        "time_to_numpy_load": decode_s / load_s,
        "time_to_parquet": decode_s / parquet_s,
        "shelf_B_row": (folder / "shelf.sqlite").stat().st_size / len(store.rows),
        "parquet_B_row": store.parquet.stat().st_size / len(store.rows),
        "npy_B_row": sum(path.stat().st_size for path in folder.glob("*.npy")) / len(store.rows),
    }


def main() -> None:
    """Prints the figures."""
    days = int(sys.argv[1]) if len(sys.argv) > 1 else DAYS
    with tempfile.TemporaryDirectory() as folder:
        for name, value in figures(Path(folder), days).items():
            print(f"{name:22} {value:12.2f}")


if __name__ == "__main__":
    main()
