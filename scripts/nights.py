#!/usr/bin/env python3
"""What nights cost beside planning the same orders at once, on the clear demo and on books of 12 weeks.

Usage: scripts/nights.py RIPWRIGHT [SECONDS [GAP]]   (60 seconds and a gap of 1 % for each run, unless said otherwise)

A book has two to four orders a week of the demo's products, one to six of each, by a seed. The early work of joined weeks is
counted as the nights count it (12 % of the wood's price a year).
"""
import csv
import datetime
import json
import pathlib
import random
import subprocess
import sys
import tempfile

FIRST = datetime.date(2027, 1, 4)
WEEKS = 12


def write_book(job, seed):
    """Orders of 12 weeks in place of the demo's."""
    draw = random.Random(seed)
    with (job / "orders.csv").open(newline="") as file:
        products = sorted({row["product"] for row in csv.DictReader(file)})
    rows = []
    for week in range(WEEKS):
        for order in range(draw.randint(2, 4)):
            due = FIRST + datetime.timedelta(days=7 * week + draw.randint(0, 4))
            rows.append([f"N{week + 1}-{order + 1}", draw.choice(products), draw.randint(1, 6), due])
    with (job / "orders.csv").open("w", newline="") as file:
        csv.writer(file).writerows([["order", "product", "quantity", "due"], *rows])


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    seconds = sys.argv[2] if len(sys.argv) > 2 else "60"
    gap = sys.argv[3] if len(sys.argv) > 3 else "1"

    def ripwright(*arguments):
        ran = subprocess.run([program, *map(str, arguments)], capture_output=True, text=True)
        if ran.returncode not in (0, 4):
            sys.exit(ran.stderr)
        return ran.stdout

    with tempfile.TemporaryDirectory() as place:
        for name in ("demo", 1, 2, 3):
            job = pathlib.Path(place) / str(name)
            ripwright("demo", job, "--clear")
            if name != "demo":
                write_book(job, name)
            common = ["--time", seconds, "--gap", gap, "--quiet"]
            plan = json.loads(ripwright("plan", job, "--out", job / "plan", *common, "--confidence", 0,
                                        "--setup-tolerance", 0, "--format", "json"))
            whole = float(plan["cost"]["total"])
            bound = float(plan["cost"]["lower_bound"])
            print(f"{name}: at once {whole:.2f} (no less than {bound:.2f})")
            for words, options in (("weeks by themselves", ["--early", 0]), ("nights", [])):
                out = job / words.replace(" ", "-")
                night = ripwright("nightly", job, "--out", out, "--until", "2099-01-01", *common, "--confidence", 0,
                                  *options, "--format", "json").splitlines()[-1]
                line = json.loads(night)
                cost = float(line["cost"])
                print(f"  {words}: {cost:.2f}, {100 * (cost / whole - 1):+.1f} %, {line['batches']} batches, "
                      f"{line['leftovers']} leftovers taken, worst gap {line['worst_gap_percent']} %", flush=True)


if __name__ == "__main__":
    main()
