#!/usr/bin/env python3
"""What rank-1 cuts could add to the bound of one-dimensional jobs, before any is built into the solver.

Usage: scripts/cuts.py KIND [NAME...]   e.g. scripts/cuts.py hard28 BPP14 (needs highspy and numpy)
Column generation to the end by HiGHS, then subset-row cuts (three rows, multipliers 1/2; Jepsen,
Petersen, Spoorendonk and Pisinger, Operations Research 56(2), 2008) are added while any is violated, and
columns are priced against them by an integer program. Nothing here is made to be fast.
"""
import collections
import itertools
import sys

import highspy
import numpy

import jobs

ROUNDS, CUTS_A_ROUND = 30, 60


def best_pattern(capacity, sizes, values):
    """The most valuable bounded knapsack, as (value, counts)."""
    best = numpy.zeros(capacity + 1)
    taken = []
    for place, (size, pieces) in enumerate(sizes):
        most, batch = min(pieces, capacity // size), 1
        while most > 0 and values[place] > 0:
            batch = min(batch, most)
            most -= batch
            with_batch = numpy.full(capacity + 1, -1.0)
            with_batch[batch * size:] = best[:capacity + 1 - batch * size] + batch * values[place]
            better = with_batch > best + 1e-12
            best = numpy.where(better, with_batch, best)
            taken.append((place, batch, size, better))
            batch *= 2
    counts, room = numpy.zeros(len(sizes), dtype=int), capacity
    for place, batch, size, better in reversed(taken):
        if better[room]:
            counts[place] += batch
            room -= batch * size
    return best[capacity], counts


def master(sizes):
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    for _, pieces in sizes:
        solver.addRow(float(pieces), highspy.kHighsInf, 0, [], [])
    return solver


def add(solver, counts):
    rows = numpy.nonzero(counts)[0]
    solver.addCol(1.0, 0.0, highspy.kHighsInf, len(rows), rows.astype(numpy.int32), counts[rows].astype(float))


def violated(columns, levels, demand):
    """Subset-row cuts that the levels violate, most violated first."""
    used = numpy.nonzero(levels > 1e-9)[0]
    inside = columns[used]
    found = []
    for one, other in itertools.combinations(range(len(demand)), 2):
        pair = inside[:, one] + inside[:, other]
        due = -(-(demand[one] + demand[other] + demand[other + 1:]) // 2)
        halves = -(-(pair[:, None] + inside[:, other + 1:]) // 2)
        lacking = levels[used] @ halves - due
        for third in numpy.nonzero(lacking < -1e-6)[0]:
            found.append((lacking[third], (one, other, other + 1 + int(third)), int(due[third])))
    return sorted(found)[:CUTS_A_ROUND]


def best_pattern_with_cuts(capacity, sizes, values, cuts):
    """The most valuable pattern where each cut adds its value for every started pair of its rows."""
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("mip_rel_gap", 0.0)
    for (size, pieces), value in zip(sizes, values):
        solver.addCol(-value, 0.0, float(min(pieces, capacity // size)), 0, [], [])
    for place, (rows, value) in enumerate(cuts):
        solver.addCol(-value, 0.0, capacity, 0, [], [])
        indices = [*rows, len(sizes) + place]
        solver.addRow(-highspy.kHighsInf, 1.0, 4, indices, [-1.0, -1.0, -1.0, 2.0])
    solver.addRow(-highspy.kHighsInf, float(capacity), len(sizes), list(range(len(sizes))),
                  [float(size) for size, _ in sizes])
    for column in range(len(sizes) + len(cuts)):
        solver.changeColIntegrality(column, highspy.HighsVarType.kInteger)
    solver.run()
    counts = numpy.round(solver.getSolution().col_value[:len(sizes)]).astype(int)
    return -solver.getObjectiveValue(), counts


def bounds(capacity, sizes):
    """(bound of the linear program, its bound with cuts, cuts)."""
    solver, columns = master(sizes), []
    for place, (size, pieces) in enumerate(sizes):
        counts = numpy.zeros(len(sizes), dtype=int)
        counts[place] = min(pieces, capacity // size)
        columns.append(counts)
        add(solver, counts)
    while True:
        solver.run()
        values = list(solver.getSolution().row_dual)
        value, counts = best_pattern(capacity, sizes, values)
        if value <= 1 + 1e-9:
            break
        columns.append(counts)
        add(solver, counts)
    plain = solver.getObjectiveValue()
    demand, cuts = numpy.array([pieces for _, pieces in sizes]), []
    halves = lambda counts, rows: numpy.ceil(counts[..., list(rows)].sum(axis=-1) / 2)
    for _ in range(ROUNDS):
        table = numpy.array(columns)
        fresh = violated(table, numpy.array(solver.getSolution().col_value), demand)
        if not fresh:
            break
        for _, rows, due in fresh:
            entries = halves(table, rows)
            inside = numpy.nonzero(entries)[0]
            solver.addRow(float(due), highspy.kHighsInf, len(inside), inside.astype(numpy.int32), entries[inside])
            cuts.append(rows)
        while True:
            solver.run()
            duals = list(solver.getSolution().row_dual)
            priced = list(zip(cuts, duals[len(sizes):]))
            value, counts = best_pattern_with_cuts(capacity, sizes, duals[:len(sizes)], priced)
            if value <= 1 + 1e-7:
                break
            columns.append(counts)
            rows = list(numpy.nonzero(counts)[0]) + [
                len(sizes) + place for place, rows in enumerate(cuts) if halves(counts, rows) > 0]
            entries = list(counts[counts > 0]) + [
                halves(counts, rows) for rows in cuts if halves(counts, rows) > 0]
            solver.addCol(1.0, 0.0, highspy.kHighsInf, len(rows), numpy.array(rows, dtype=numpy.int32),
                          numpy.array(entries, dtype=float))
    return plain, solver.getObjectiveValue(), len(cuts)


def main():
    kind, names = sys.argv[1], sys.argv[2:]
    if kind.startswith("gg-"):
        size = int(kind.partition("-")[2])
        problems = [(f"gg{size}-{number}", *jobs.gilmore_gomory(size, number)) for number in range(5)]
    else:
        problems = list(jobs.open_set(kind))
    for name, capacity, sizes in problems:
        if not names or name in names:
            sizes = sorted(collections.Counter(sizes).items(), reverse=True)
            plain, cut, cuts = bounds(capacity, sizes)
            print(f"{name:12} linear program {plain:.4f}, with {cuts} cuts {cut:.4f}", flush=True)


if __name__ == "__main__":
    main()
