#!/usr/bin/env python3
"""The same job given to ripwright and, as an assignment program, to HiGHS and to CP-SAT.

Usage: scripts/ratio.py [PARTS ...]   (default 10 20 40; needs the packages highspy and ortools)
Jobs are one-dimensional: boards of three lengths as wide as the parts, a kerf between pieces. The
program has an integer for every part on every board that could be needed, and a binary for every
board and length; boards are ordered so that equal ones cannot change places. Both solvers run on two
threads. Each line says what was reached in the limit, and when ripwright's cost was reached.
"""
import pathlib
import random
import sys
import tempfile

import jobs
from contenders import LIMIT, ripwright, solve_cp_sat, solve_highs

KERF = 3
STOCK = [(2400, 1300), (3000, 1650), (3600, 1940)]


def make(parts, seed):
    """(length, pieces) of each part; whole millimetres."""
    chance = random.Random(f"ratio {parts} {seed}")
    lengths = chance.sample(range(250, 1500), parts)
    return [(length, chance.randint(2, 8)) for length in lengths]


def planned(demand):
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        rows = [f"{pieces},{length},40,19,oak,1C" for length, pieces in demand]
        prices = [f"oak,4/4,1C,40,{length},{cents / 100:.2f},piece" for length, cents in STOCK]
        jobs.write(folder / "job", jobs.PLAIN_SHOP.format(kerf=KERF, stages=2), rows, {"yard": prices})
        cost, reached = ripwright(folder / "job", folder / "out", "--time", "10")
    return round(float(cost["total"]) * 100), round(float(cost["lower_bound"]) * 100), reached


def boards_needed(demand):
    """Boards of a first-fit plan on the longest stock: an upper limit for the program."""
    room = max(length for length, _ in STOCK) + KERF
    left = []
    for length, pieces in sorted(demand, reverse=True):
        for _ in range(pieces):
            place = next((b for b, r in enumerate(left) if r >= length + KERF), None)
            if place is None:
                left.append(room)
                place = len(left) - 1
            left[place] -= length + KERF
    # Shorter boards may be cheaper in all, so some more boards than that may be of use.
    return len(left) + len(left) // 3 + 1


def with_cp_sat(demand, target):
    from ortools.sat.python import cp_model

    model, boards = cp_model.CpModel(), range(boards_needed(demand))
    used = [[model.new_bool_var("") for _ in STOCK] for _ in boards]
    cut = [[model.new_int_var(0, pieces, "") for _, pieces in demand] for _ in boards]
    for b in boards:
        model.add(sum(used[b]) <= 1)
        room = sum((length + KERF) * used[b][s] for s, (length, _) in enumerate(STOCK))
        model.add(sum((length + KERF) * cut[b][i] for i, (length, _) in enumerate(demand)) <= room)
        if b:
            price = [cents for _, cents in STOCK]
            model.add(
                sum(p * u for p, u in zip(price, used[b])) <= sum(p * u for p, u in zip(price, used[b - 1]))
            )
    for i, (_, pieces) in enumerate(demand):
        model.add(sum(cut[b][i] for b in boards) >= pieces)
    model.minimize(sum(cents * used[b][s] for b in boards for s, (_, cents) in enumerate(STOCK)))
    return solve_cp_sat(model, target)


def with_highs(demand, target):
    import highspy

    model = highspy.Highs()
    model.silent()
    boards = range(boards_needed(demand))
    used = [[model.addBinary(obj=cents) for _, cents in STOCK] for _ in boards]
    cut = [[model.addIntegral(0, pieces) for _, pieces in demand] for _ in boards]
    for b in boards:
        model.addConstr(sum(used[b]) <= 1)
        room = sum((length + KERF) * used[b][s] for s, (length, _) in enumerate(STOCK))
        model.addConstr(sum((length + KERF) * cut[b][i] for i, (length, _) in enumerate(demand)) <= room)
        if b:
            price = [cents for _, cents in STOCK]
            model.addConstr(
                sum(p * u for p, u in zip(price, used[b])) <= sum(p * u for p, u in zip(price, used[b - 1]))
            )
    for i, (_, pieces) in enumerate(demand):
        model.addConstr(sum(cut[b][i] for b in boards) >= pieces)
    return solve_highs(model, target)


def main():
    for parts in [int(word) for word in sys.argv[1:]] or [10, 20, 40]:
        for seed in range(3):
            demand = make(parts, seed)
            cost, bound, reached = planned(demand)
            line = f"{parts} parts, job {seed}: ripwright {cost / 100:.2f} (bound {bound / 100:.2f}) in {reached:.2f} s"
            for name, solver in (("HiGHS", with_highs), ("CP-SAT", with_cp_sat)):
                value, when = solver(demand, cost)
                got = "no plan" if value is None else f"{value / 100:.2f}"
                if when is None:
                    line += f"; {name} {got} after {LIMIT:.0f} s (over {LIMIT / reached:.0f} times as long)"
                else:
                    line += f"; {name} {got} in {when:.2f} s ({when / reached:.1f} times as long)"
            print(line, flush=True)


if __name__ == "__main__":
    main()
