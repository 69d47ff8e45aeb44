#!/usr/bin/env python3
"""Kills `ripwright nightly` at random moments and looks at what a reader would see.

Usage: scripts/kill.py [RUNS]   (200 by default)
After every kill the latest run must be whole: the files that its summary names are there, every plan
passes `ripwright check`, and the next run must succeed. The order book changes between runs.
"""
import json
import os
import pathlib
import random
import shutil
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = os.environ.get("RIPWRIGHT") or ROOT / "target" / "release" / "ripwright"


def nightly(job, out):
    return [PROGRAM, "nightly", job, "--out", out, "--gap", "5", "--time", "20", "--quiet", "--format", "json"]


def whole(out):
    latest = out / "latest"
    if not latest.exists():
        return not latest.is_symlink()
    record = json.loads((latest / "run.json").read_text())
    for batch in record["batches"]:
        if batch["status"] is None:
            # The week has no plan, and says so.
            continue
        plan = latest / batch["batch"] / "plan.json"
        json.loads(plan.read_text())
        for name in ("buy.csv", "cuts.csv", "setups.csv", "sheets.html"):
            if (plan.parent / name).stat().st_size == 0:
                return False
    return (latest / "summary.txt").exists() and (latest / "rejects.csv").exists()


def main():
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    chance = random.Random(1)
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        job, out = folder / "job", folder / "out"
        shutil.copytree(ROOT / "datasets" / "furniture-inch", job)
        orders = (job / "orders.csv").read_text().split("\n")
        subprocess.run(nightly(job, out), stdout=subprocess.DEVNULL)
        torn, failed, killed = 0, 0, 0
        for run in range(runs):
            rows = [row for row in orders[1:] if row and chance.random() < 0.12]
            kept = [orders[0]] + (rows or [orders[1]])
            (job / "orders.csv").write_text("\n".join(kept) + "\n")
            process = subprocess.Popen(nightly(job, out), stdout=subprocess.DEVNULL)
            try:
                process.wait(chance.uniform(0.0, 0.8))
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
                killed += 1
            torn += not whole(out)
            if run % 10 == 9:
                failed += subprocess.run(nightly(job, out), stdout=subprocess.DEVNULL).returncode not in (0, 3, 4)
                torn += not whole(out)
        print(f"{runs} runs, {killed} killed, {torn} torn results seen, {failed} next runs failed")
        return torn + failed


if __name__ == "__main__":
    sys.exit(main())
