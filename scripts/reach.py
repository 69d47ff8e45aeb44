#!/usr/bin/env python3
"""Runs `ripwright plan` over the jobs of one kind and prints a line a job and a summary.

Usage: scripts/reach.py KIND TIME GAP [OPTION...]   e.g. scripts/reach.py uniform-500 30 0
KIND is one of scripts/jobs.py; further options go to `ripwright plan`. One job runs at a time.
"""
import json
import os
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

import jobs

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = os.environ.get("RIPWRIGHT") or ROOT / "target" / "release" / "ripwright"


def run(job, out, limit, gap, options):
    """(wall seconds, peak megabytes, exit code, cost part of plan.json, boards)."""
    command = [PROGRAM, "plan", job, "--out", out, "--time", limit, "--gap", gap, "--quiet", *options]
    start = time.monotonic()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    wall = time.monotonic() - start
    plan = json.loads((pathlib.Path(out) / "plan.json").read_text())
    return wall, usage.ru_maxrss / 1024, os.waitstatus_to_exitcode(status), plan


def main():
    kind, limit, gap, options = sys.argv[1], sys.argv[2], sys.argv[3], sys.argv[4:]
    rows = []
    for name, writer, best in jobs.jobs(kind):
        with tempfile.TemporaryDirectory() as folder:
            folder = pathlib.Path(folder)
            writer(folder / "job")
            wall, peak, code, plan = run(folder / "job", folder / "out", limit, gap, options)
        cost, bound = float(plan["cost"]["total"]), float(plan["cost"]["lower_bound"])
        known = f" best known {best}" if best else ""
        print(
            f"{name:16} {wall:7.2f} s {peak:6.0f} MB exit {code} {plan['status']:10} "
            f"cost {cost:10.2f} bound {bound:10.2f} gap {plan['cost']['gap_percent']:.3f} %{known}",
            flush=True,
        )
        rows.append((wall, peak, plan["status"], cost, bound, plan["cost"]["gap_percent"]))
    walls = [row[0] for row in rows]
    proven = sum(row[2] == "optimal" for row in rows)
    one = sum(row[3] - row[4] <= 1 for row in rows)
    print(
        f"{kind}: {len(rows)} jobs, {proven} proven optimal, {one} within 1 of the bound, "
        f"time median {statistics.median(walls):.2f} s worst {max(walls):.2f} s, "
        f"gap median {statistics.median(row[5] for row in rows):.2f} % worst {max(row[5] for row in rows):.2f} %, "
        f"peak {max(row[1] for row in rows):.0f} MB"
    )


if __name__ == "__main__":
    main()
