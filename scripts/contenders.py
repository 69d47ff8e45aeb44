"""What the comparisons with general-purpose solvers share: ripwright timed to its best plan, and the two solvers.

Used by scripts/ratio.py and scripts/levels.py. Both solvers run on two threads.
"""
import json
import os
import pathlib
import subprocess
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
PROGRAM = os.environ.get("RIPWRIGHT") or ROOT / "target" / "release" / "ripwright"
LIMIT = 60.0


def ripwright(job, out, *options):
    """The cost part of the plan of a job folder, and the seconds until its plan was found."""
    log = pathlib.Path(f"{out}.progress")
    start = time.monotonic()
    with log.open("w") as progress:
        subprocess.run(
            [PROGRAM, "plan", job, "--out", out, "--gap", "0", "--progress", *options],
            check=False, stdout=subprocess.DEVNULL, stderr=progress,
        )
    wall = time.monotonic() - start
    cost = json.loads((pathlib.Path(out) / "plan.json").read_text())["cost"]
    best = f"best plan {cost['total']},"
    lines = [line for line in log.read_text().split("\n") if best in line]
    return cost, float(lines[0].split()[0]) if lines else wall


def solve_cp_sat(model, target, stops=False):
    """The value that CP-SAT ends with, if any, and the seconds until it was as good as the target, where it may stop."""
    from ortools.sat.python import cp_model

    start = time.monotonic()

    class Watch(cp_model.CpSolverSolutionCallback):
        reached = None

        def on_solution_callback(self):
            if self.reached is None and self.objective_value <= target + 0.5:
                self.reached = time.monotonic() - start
                if stops:
                    self.stop_search()

    solver, watch = cp_model.CpSolver(), Watch()
    solver.parameters.max_time_in_seconds = LIMIT
    solver.parameters.num_workers = 2
    status = solver.solve(model, watch)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return (round(solver.objective_value) if found else None), watch.reached


def solve_highs(model, target):
    """The same of HiGHS, which stops at the target. The model has its objective."""
    model.setOptionValue("time_limit", LIMIT)
    model.setOptionValue("threads", 2)
    model.setOptionValue("objective_target", target + 0.5)
    start = time.monotonic()
    model.run()
    wall = time.monotonic() - start
    value = model.getInfo().objective_function_value
    found = value < 1e29
    return (round(value) if found else None), (wall if found and value <= target + 0.5 else None)
