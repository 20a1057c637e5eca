"""Rig-years balanced on Dask: python -m tests.bench.many_rigs [RIG-YEARS [BASE-DAYS [FOLDER]]].

A base of rehearsed days of the demo's rig, repeated to a year (`years`), is exported as a store
once; each further rig is that year with every meter off by its stated uncertainty, so that a
thousand rig-years come from a few simulated ones.  Then the store is balanced with 1 and with 2
workers.  Tells disk, time, rig-days a second and the scaling, and what 1000 rig-years would take.

The aim, set before the first run: 2 workers take at most 0.6 of the time of one on two free
cores.  Ends with 1 if it is missed.  On a machine that others use as well it says little.

Measured, 8 rigs x 366 days on two free cores: 57 s with 1 worker, 30 s with 2, 0.53 of it;
247 MB on disk.  The base in FOLDER is kept and taken again.
"""

import random
import shutil
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq

from forebay.described import described
from forebay.export.parquet import COMPRESSION
from forebay.export.tables import EVENTS, ROWS, TOTALS
from forebay.many.spreading import balanced
from forebay.many.store import RIGS, Store, put
from forebay.shelf import Shelf
from forebay.shelf.local import zone_at
from tests.bench import years

MOST_OF_ONE = 0.6
FULL_RIG_YEARS, DAYS_A_YEAR = 1000, 365
FLOW_FRAC, VOLTAGE_FRAC, CURRENT_FRAC = 0.02, 0.005, 0.01   # of the demo's rig
ENERGIES = {"panel_mJ": "panel", "pump_mJ": "pump", "supply_in_mJ": "supply",
            "supply_out_mJ": "supply", "generator_mJ": "generator", "lamp_mJ": "lamp"}
VOLTS = {"panel": "panel", "pump": "panel", "supply": "supply", "generator": "generator",
         "lamp": "generator"}


def errors(seed):
    """Returns what each column of one rig is multiplied by."""
    draw = random.Random(seed)
    volts = {name: 1 + VOLTAGE_FRAC * draw.gauss(0, 1)
             for name in ("panel", "generator", "supply")}
    amps = {name: 1 + CURRENT_FRAC * draw.gauss(0, 1) for name in VOLTS}
    flow = {name: 1 + FLOW_FRAC * draw.gauss(0, 1) for name in ("up", "down")}
    found = {f"{name}_V": one for name, one in volts.items()}
    found |= {f"{name}_A": one for name, one in amps.items()}
    found |= {f"flow_{name}_m3_s": one for name, one in flow.items()}
    found |= {f"total_{total}": volts[VOLTS[of]] * amps[of] for total, of in ENERGIES.items()}
    return found | {f"total_{name}_uL": one for name, one in flow.items()}


class Base:
    """The months of a rig in a store, read once."""

    def __init__(self, store, rig_id):
        """Take a store's folder and which of its rigs."""
        self.store = store
        self.place = store / RIGS / str(rig_id)
        self.tables = {(kind, place.parent.name, place.name): pq.ParquetFile(place).read()
                       for kind in (ROWS, EVENTS, TOTALS) for place in
                       sorted((store / kind / f"rig={rig_id}").glob("month=*/*.parquet"))}

    def another(self, rig_id):
        """Writes these months as those of another rig, its meters off."""
        off = errors(rig_id)
        for (kind, month, name), table in self.tables.items():
            for at, field in enumerate(table.schema):
                if field.name in off:
                    table = table.set_column(at, field, _times(table, at, off[field.name]))
            target = self.store / kind / f"rig={rig_id}" / month / name
            target.parent.mkdir(parents=True)
            pq.write_table(table, target, compression=COMPRESSION,
                           row_group_size=max(len(table), 1))
        shutil.copytree(self.place, self.store / RIGS / str(rig_id))


def _times(table, at, times):
    import pyarrow as pa

    field = table.schema.field(at)
    scaled = times * table.column(at).cast(pa.float64()).to_numpy()
    if pa.types.is_integer(field.type):
        scaled = np.rint(scaled)
    return pa.array(scaled, from_pandas=True).cast(field.type)


def size_B(folder):
    """Returns the bytes below a folder."""
    return sum(place.stat().st_size for place in folder.rglob("*") if place.is_file())


def main(rig_years="4", base_days="365", folder=None):
    """Prints what it took; returns 1 if the scaling is missed."""
    rig_years, base_days = int(rig_years), int(base_days)
    work = Path(folder or tempfile.mkdtemp(prefix="many-rigs-"))
    work.mkdir(parents=True, exist_ok=True)
    store = work / "store"
    try:
        began = time.monotonic()
        path = work / "base.sqlite"
        with Shelf(path if path.exists() else years.make(path, base_days), create=False) as shelf:
            rigs = described(shelf)
            base_id = rigs.rig_id
            put(shelf, rigs, store, zone_at(rigs.newest.site))
        print(f"base of {base_days} days: {time.monotonic() - began:.0f} s", flush=True)
        began = time.monotonic()
        base = Base(store, base_id)
        for number in range(1, rig_years):
            base.another(number)
        print(f"{rig_years - 1} more rigs made: {time.monotonic() - began:.0f} s", flush=True)
        return measured(store, rig_years)
    finally:
        if folder is None:
            shutil.rmtree(work)


def measured(store, rig_years):
    """Balances the store with 1 and 2 workers; returns 1 if the scaling is missed."""
    days = sum(len(one) for one in Store(store).rigs().values())
    disk_B = size_B(store)
    took_s = {}
    for workers in (1, 2):
        began = time.monotonic()
        rows = balanced(store, workers)
        took_s[workers] = time.monotonic() - began
        bad = [one["fault"] for one in rows if one["fault"]]
        print(f"{workers} worker{'s' if workers > 1 else ''}: {len(rows)} rig-days in"
              f" {took_s[workers]:.0f} s, {len(rows) / took_s[workers]:.0f} a second,"
              f" {len(bad)} not balanced {bad[:1] or ''}", flush=True)
    ratio = took_s[2] / took_s[1]
    full = FULL_RIG_YEARS * DAYS_A_YEAR / days
    print(f"{rig_years} rigs, {days} rig-days, {disk_B / 1e6:.0f} MB on disk;"
          f" {FULL_RIG_YEARS} rig-years would be {full * disk_B / 1e9:.0f} GB and"
          f" {full * took_s[2] / 3600:.1f} h with 2 workers; 2 workers take {ratio:.2f} of the"
          f" time of one{'' if ratio <= MOST_OF_ONE else '  MISSED'}")
    return int(ratio > MOST_OF_ONE)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
