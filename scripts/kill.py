#!/usr/bin/env python3
"""Kills the program at random moments and looks at what a reader would see.

Usage: scripts/kill.py [RUNS] [nightly|plan|rack|join ...]   (200 runs over all four by default)
RIPWRIGHT names the program, else target/release/ripwright. After every kill what was written before must be whole or what
comes after it must be, and the next run must succeed.
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
QUICK = ["--gap", "5", "--time", "20", "--quiet"]


def run(*words):
    return subprocess.run([PROGRAM, *words], capture_output=True, text=True)


def killed(longest, chance, *words):
    """Runs the program and kills it at a moment of its usual time; was it still running?"""
    process = subprocess.Popen([PROGRAM, *words], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        process.wait(chance.uniform(0.0, longest))
        return False
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
        return True


class Nightly:
    """The order book changes from night to night: the files that the summary names are there, and every plan can be read."""

    longest = 0.8

    def __init__(self, folder):
        self.job, self.out = folder / "job", folder / "out"
        shutil.copytree(ROOT / "datasets" / "furniture-inch", self.job)
        self.orders = (self.job / "orders.csv").read_text().split("\n")
        run(*self.words())

    def words(self):
        return ["nightly", self.job, "--out", self.out, "--format", "json", *QUICK]

    def before(self, chance):
        rows = [row for row in self.orders[1:] if row and chance.random() < 0.12]
        (self.job / "orders.csv").write_text("\n".join([self.orders[0]] + (rows or [self.orders[1]])) + "\n")

    def is_whole(self):
        latest = self.out / "latest"
        if not latest.exists():
            return not latest.is_symlink()
        for batch in json.loads((latest / "run.json").read_text())["batches"]:
            if batch["status"] is None:
                # The week has no plan, and says so.
                continue
            plan = latest / batch["batch"] / "plan.json"
            json.loads(plan.read_text())
            for name in ("buy.csv", "cuts.csv", "setups.csv", "sheets.html"):
                if (plan.parent / name).stat().st_size == 0:
                    return False
        return (latest / "summary.txt").exists() and (latest / "rejects.csv").exists()

    def next_succeeds(self):
        return run(*self.words()).returncode in (0, 3, 4)


class Plan:
    """A job that changes: the plan that lies there passes the check of the job it was made for, with all its files."""

    longest = 0.5

    def __init__(self, folder):
        self.jobs = [folder / "one", folder / "two"]
        self.out = folder / "plan"
        for quantity, job in enumerate(self.jobs, start=2):
            run("new", job)
            lines = (job / "orders.csv").read_text().splitlines()
            cells = lines[1].split(",")
            cells[lines[0].split(",").index("quantity")] = str(quantity)
            (job / "orders.csv").write_text("\n".join([lines[0], ",".join(cells)]) + "\n")
        self.job = self.jobs[0]

    def words(self):
        return ["plan", self.job, "--out", self.out, "--confidence", "0", *QUICK]

    def before(self, chance):
        self.job = chance.choice(self.jobs)

    def is_whole(self):
        if not self.out.exists():
            return True
        # Either the plan from before or the one that was being made; the check reads the manifest as well.
        return any(run("check", self.out / "plan.json", "--job", job).returncode == 0 for job in self.jobs)

    def next_succeeds(self):
        return run(*self.words()).returncode in (0, 4)


class Rack:
    """A plan is committed and taken back: a movement has happened or has not, and `rack.csv` follows the ledger."""

    longest = 0.02

    def __init__(self, folder):
        self.job, self.plan = folder / "job", folder / "plan"
        shutil.copytree(ROOT / "datasets" / "furniture-inch", self.job)
        lines = (self.job / "orders.csv").read_text().splitlines()
        (self.job / "orders.csv").write_text("\n".join(lines[:2]) + "\n")
        run("rack", "import", self.job)
        run("plan", self.job, "--out", self.plan, *QUICK)
        self.free = {False: self.boards()}
        committed = self.movement(True)
        assert committed.returncode == 0, committed.stderr
        self.free[True] = self.boards()
        assert self.free[True] != self.free[False]
        self.movement(False)
        self.commits = True

    def boards(self):
        return run("rack", "list", self.job).stdout

    def movement(self, commits):
        self.commits = commits
        return run(*self.words())

    def words(self):
        plan = ["commit", self.plan / "plan.json", "--job", self.job]
        return ["rack", *(plan if self.commits else ["undo", self.job])]

    def before(self, _):
        self.commits = self.boards() == self.free[False]

    def is_whole(self):
        now = self.boards()
        if now not in self.free.values():
            return False
        # What the ledger says is what the next plan reads, once it is exported.
        exported = run("rack", "export", self.job).returncode == 0
        csv = (self.job / "rack.csv").read_text().splitlines()
        return exported and len(csv) - 1 == len([line for line in now.splitlines()[1:] if line.strip()])

    def next_succeeds(self):
        self.before(None)
        return run(*self.words()).returncode == 0


class Join:
    """Units of a book are solved and joined again and again: what lies there is whole, and is the same each time."""

    def __init__(self, folder):
        job, self.units = folder / "job", folder / "units"
        shutil.copytree(ROOT / "datasets" / "furniture-inch", job)
        lines = (job / "orders.csv").read_text().splitlines()
        (job / "orders.csv").write_text("\n".join(lines[:4]) + "\n")
        self.names = run("split", job, "--out", self.units).stdout.split()
        self.solves = None
        for self.solves in [*self.names, None]:
            assert run(*self.words()).returncode == 0
        self.joined = self.read()

    def read(self):
        # A plan's own files; a workbook says when it was made.
        results = sorted((self.units / "results").rglob("*.json"))
        return [(path, path.read_bytes()) for path in [self.units / "joined.json", *results]]

    def words(self):
        return ["solve", self.solves, "--confidence", "0", *QUICK] if self.solves else ["join", self.units]

    def before(self, chance):
        self.solves = chance.choice([*self.names, None])
        self.longest = 1.0 if self.solves else 0.03

    def is_whole(self):
        return self.read() == self.joined

    def next_succeeds(self):
        return run(*self.words()).returncode == 0 and self.is_whole()


ALL = {"nightly": Nightly, "plan": Plan, "rack": Rack, "join": Join}


def main():
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    names = sys.argv[2:] or list(ALL)
    chance = random.Random(1)
    wrong = 0
    for name in names:
        with tempfile.TemporaryDirectory() as folder:
            tried = ALL[name](pathlib.Path(folder))
            share = runs // len(names)
            torn, failed, cut_off = 0, 0, 0
            for number in range(share):
                tried.before(chance)
                cut_off += killed(tried.longest, chance, *tried.words())
                torn += not tried.is_whole()
                if number % 10 == 9:
                    failed += not tried.next_succeeds()
                    torn += not tried.is_whole()
            print(f"{name}: {share} runs, {cut_off} killed, {torn} torn results seen, {failed} next runs failed", flush=True)
            wrong += torn + failed
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
