#!/usr/bin/env python3
"""Plans the units of an order book on a Dask cluster and joins them.

Usage: scripts/units_dask.py JOB UNITS [SCHEDULER] [OPTION...]   (needs dask and distributed)
Without the address of a scheduler (tcp://HOST:PORT) a cluster of two local workers is started. The workers
must see UNITS under the same path. Further options go to `ripwright solve`, such as --gap 2.
"""
import os
import pathlib
import subprocess
import sys

from dask.distributed import Client, LocalCluster

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = os.environ.get("RIPWRIGHT") or str(ROOT / "target" / "release" / "ripwright")


def ripwright(*arguments):
    """What the program prints; its own exit codes 0 and 4 are complete plans."""
    done = subprocess.run([PROGRAM, *map(str, arguments)], capture_output=True, text=True, check=False)
    if done.returncode not in (0, 4):
        raise RuntimeError(f"ripwright {' '.join(map(str, arguments))}: {done.stderr}")
    return done.stdout


def main():
    job, units, *rest = sys.argv[1:]
    scheduler = rest.pop(0) if rest and "://" in rest[0] else None
    split = ripwright("split", job, "--out", units).split()
    cluster = None if scheduler else LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None)
    with Client(scheduler or cluster) as client:
        # A unit whose worker is lost is planned again by another: its result is written whole or not at all.
        tasks = [client.submit(ripwright, "solve", unit, *rest, pure=False, retries=2) for unit in split]
        client.gather(tasks)
    print(ripwright("join", units), end="")


if __name__ == "__main__":
    main()
