#!/usr/bin/env python3
"""Runs a command several times and prints its wall time and peak memory.

Usage: scripts/measure.py RUNS COMMAND [ARGUMENT...]
"""
import os
import statistics
import subprocess
import sys
import time


def main() -> int:
    runs = int(sys.argv[1])
    walls, peaks = [], []
    for _ in range(runs):
        start = time.monotonic()
        process = subprocess.Popen(sys.argv[2:], stdout=subprocess.DEVNULL)
        _, status, usage = os.wait4(process.pid, 0)
        walls.append(time.monotonic() - start)
        peaks.append(usage.ru_maxrss / 1024)
        code = os.waitstatus_to_exitcode(status)
    print(
        f"median {statistics.median(walls):.2f} s, worst {max(walls):.2f} s, "
        f"peak memory {max(peaks):.0f} MB, exit code {code} ({runs} runs)"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
