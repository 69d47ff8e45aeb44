#!/usr/bin/env python3
"""The same sheets given to ripwright and, as a program of levels, to HiGHS and to CP-SAT.

Usage: scripts/levels.py [PIECES ...]   (default 10 20 30; needs the packages highspy and ortools)
Jobs are pieces of two or three of a kind that may be turned, from sheets of one size with a kerf. The program is that of
Lodi, Martello and Vigo (Journal of Combinatorial Optimization 8, 2004, 363-379) for level packing: a piece begins a level or
lies in one, a level begins a sheet or lies on one. Here levels run either way of the sheet, and pieces are turned or not, so
that it allows just what two stages allow. Both solvers stop where they are as good as ripwright.
"""
import pathlib
import random
import sys
import tempfile

from contenders import LIMIT, ripwright, solve_cp_sat, solve_highs

KERF = 3
SHEET = (2440, 1220)


def make(pieces, seed):
    """(length, width, number) of each kind; whole millimetres, `pieces` in all."""
    chance = random.Random(f"levels {pieces} {seed}")
    kinds, left = [], pieces
    while left:
        many = min(left, chance.randint(1, 3))
        kinds.append((chance.randint(200, 1100), chance.randint(120, 700), many))
        left -= many
    return kinds


def planned(kinds):
    with tempfile.TemporaryDirectory() as place:
        folder = pathlib.Path(place)
        (folder / "prices").mkdir()
        rows = [f"P,p{n},{many},{length},{width},18,birch,sheet,any" for n, (length, width, many) in enumerate(kinds)]
        (folder / "parts.csv").write_text(
            "product,part,pieces,length,width,thickness,species,material,grain\n" + "\n".join(rows) + "\n"
        )
        (folder / "orders.csv").write_text("order,product,quantity\n1,P,1\n")
        (folder / "shop.toml").write_text(f'unit = "mm"\n[sheet_saw]\nkerf = {KERF}\ntrim = 0\n')
        (folder / "prices" / "yard.csv").write_text(
            f"species,quarter,grade,width,length,price,material\nbirch,18,one,{SHEET[1]},{SHEET[0]},1,sheet\n"
        )
        cost, reached = ripwright(folder, folder / "out", "--time", "20", "--setup-tolerance", "0")
    return round(float(cost["total"])), round(float(cost["lower_bound"])), reached


class Levels:
    """The program: entries are pieces as they may lie, in a level that runs along the sheet or across it."""

    def __init__(self, kinds):
        pieces = [(length, width) for length, width, many in kinds for _ in range(many)]
        self.entries = []
        for piece, (length, width) in enumerate(pieces):
            for way in (0, 1):
                for run, main in {(length, width), (width, length)}:
                    rooms = (SHEET[0] + KERF, SHEET[1] + KERF) if way == 0 else (SHEET[1] + KERF, SHEET[0] + KERF)
                    run_room, main_room = rooms
                    if run + KERF <= run_room and main + KERF <= main_room:
                        self.entries.append((piece, way, run + KERF, main + KERF, run_room, main_room))
        self.pieces = len(pieces)

    def follows(self, one, other):
        """May the other lie in the level (or on the sheet) that the one begins?"""
        a, b = self.entries[one], self.entries[other]
        return a[0] != b[0] and a[1] == b[1] and (b[3], other) < (a[3], one)

    def build(self, binary, add, total):
        """Variables by `binary`, rows (expression, lower, upper) by `add`; gives what is minimised."""
        many = range(len(self.entries))
        begins_sheet = [binary() for _ in many]
        pairs = [(one, other) for one in many for other in many if self.follows(one, other)]
        in_level = {pair: binary() for pair in pairs}
        on_sheet = {pair: binary() for pair in pairs}
        begins = [binary() for _ in many]
        of = {one: [] for one in many}
        into = {one: [] for one in many}
        for one, other in pairs:
            of[one].append(other)
            into[other].append(one)
        for piece in range(self.pieces):
            own = [entry for entry in many if self.entries[entry][0] == piece]
            add(total([begins[e] for e in own] + [in_level[one, e] for e in own for one in into[e]]), 1, 1)
        for one in many:
            _, _, run, main, run_room, main_room = self.entries[one]
            add(total([self.entries[e][2] * in_level[one, e] for e in of[one]] + [(run - run_room) * begins[one]]), None, 0)
            add(total([begins_sheet[one]] + [on_sheet[g, one] for g in into[one]] + [-1 * begins[one]]), 0, 0)
            add(
                total([self.entries[e][3] * on_sheet[one, e] for e in of[one]] + [(main - main_room) * begins_sheet[one]]),
                None, 0,
            )
        return begins_sheet


def with_cp_sat(kinds, target):
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()

    def add(expression, low, high):
        if low is not None:
            model.add(expression >= low)
        model.add(expression <= high)

    sheets = Levels(kinds).build(lambda: model.new_bool_var(""), add, sum)
    model.minimize(sum(sheets))
    return solve_cp_sat(model, target, stops=True)


def with_highs(kinds, target):
    import highspy

    model = highspy.Highs()
    model.silent()

    def add(expression, low, high):
        if low is not None:
            model.addConstr(expression >= low)
        model.addConstr(expression <= high)

    def total(terms):
        return model.qsum(terms)

    sheets = Levels(kinds).build(lambda: model.addBinary(), add, total)
    for sheet in sheets:
        model.changeColCost(sheet.index, 1)
    return solve_highs(model, target)


def main():
    for pieces in [int(word) for word in sys.argv[1:]] or [10, 20, 30]:
        for seed in range(3):
            kinds = make(pieces, seed)
            cost, bound, reached = planned(kinds)
            line = f"{pieces} pieces, job {seed}: ripwright {cost} sheets (bound {bound}) in {reached:.2f} s"
            for name, solver in (("HiGHS", with_highs), ("CP-SAT", with_cp_sat)):
                value, when = solver(kinds, cost)
                if when is None:
                    line += f"; {name} {value or 'no plan'} after {LIMIT:.0f} s"
                else:
                    line += f"; {name} {value} in {when:.2f} s ({when / max(reached, 0.01):.1f} times as long)"
            print(line, flush=True)


if __name__ == "__main__":
    main()
