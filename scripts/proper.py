#!/usr/bin/env python3
"""HiGHS on all proper patterns of a small job, listed beforehand, beside ripwright on the job itself.

Usage: scripts/proper.py [KIND]   (default piece-16; needs the package highspy)
RIPWRIGHT names the program, else target/release/ripwright. `cargo bench --bench columns` lists the columns that a plan of
ripwright's cost or less can need, which is not timed; HiGHS then has the covering program to itself, on two threads.
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
LIMIT = 60


def with_highs(program):
    """(cost before rows are rounded, seconds)."""
    import highspy

    model = highspy.Highs()
    model.silent()
    model.setOptionValue("threads", 2)
    model.setOptionValue("time_limit", LIMIT)
    model.setOptionValue("mip_rel_gap", 0)
    infinity = highspy.kHighsInf
    for pieces in program["pieces"]:
        model.addRow(pieces, infinity, 0, [], [])
    for place, (cost, gives) in enumerate(program["columns"]):
        rows, entries = [row for row, _ in gives], [n for _, n in gives]
        model.addCol(cost, 0, infinity, len(rows), rows, entries)
        model.changeColIntegrality(place, highspy.HighsVarType.kInteger)
    start = time.monotonic()
    model.run()
    return model.getInfo().objective_function_value, time.monotonic() - start


def main():
    kind = sys.argv[1] if len(sys.argv) > 1 else "piece-16"
    times = []
    dearer = 0
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        for name, writer, _ in jobs.jobs(kind):
            job, out, columns = folder / name, folder / "out", folder / "columns.json"
            writer(job)
            start = time.monotonic()
            command = [PROGRAM, "plan", job, "--out", out, "--gap", "0", "--setup-tolerance", "0", "--quiet"]
            subprocess.run(command, stdout=subprocess.DEVNULL)
            own = time.monotonic() - start
            cost = json.loads((out / "plan.json").read_text())["cost"]["total"]
            command = ["cargo", "bench", "--quiet", "--bench", "columns", "--", job, cost, columns]
            listed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()
            if listed.startswith("too many"):
                print(f"{name}: {own:6.2f} s {cost:>9}; {listed}")
                continue
            theirs, seconds = with_highs(json.loads(columns.read_text()))
            # Rows of the bill are rounded to the cent, by half a cent each at most.
            dearer += float(cost) > theirs + 0.05
            times.append((own, seconds))
            print(f"{name}: {own:6.2f} s {cost:>9}; HiGHS {seconds:6.2f} s {theirs:9.2f}; {listed}", flush=True)
    own, theirs = (statistics.median(column) for column in zip(*times))
    print(f"{kind}: {len(times)} jobs, {dearer} dearer; median {own:.2f} s, HiGHS {theirs:.2f} s")


if __name__ == "__main__":
    main()
