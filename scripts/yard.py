#!/usr/bin/env python3
"""Writes a job and a tally of measured boards, for timing `ripwright yard`: 60 part sizes and 100 boards, 30 of them
with a defect, or so many sizes and boards with that share of defects.

Usage: scripts/yard.py FOLDER [SEED [SIZES BOARDS SHARE]]; then
ripwright yard FOLDER --tally FOLDER/boards.csv
"""
import pathlib
import random
import sys

import jobs


def main():
    folder, seed = pathlib.Path(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else "1"
    sizes, boards, share = (int(sys.argv[3]), int(sys.argv[4]), float(sys.argv[5])) if len(sys.argv) > 5 else (60, 100, 0.3)
    jobs.shop_job(folder, sizes, 24, seed, pieces=(1, 4))
    chance = random.Random(f"yard {seed}")
    rows = ["board,species,quarter,grade,width,length,value,defects"]
    for number in range(1, boards + 1):
        quarter = chance.choice(["4/4", "4/4", "5/4", "6/4", "8/4", "8/4"])
        grade = chance.choice(["1C", "FAS", "FAS"])
        width, length = chance.randint(36, 88) / 8, chance.randint(80, 150)
        value = width * length * jobs.QUARTERS[quarter][1] / 144 * chance.uniform(5, 8)
        defects = ""
        if chance.random() < share:
            x, y = chance.randint(10, length - 20), chance.randint(1, 3)
            defects = f"{x}..{x + chance.randint(1, 6)}@{y}..{y + 1}"
        rows.append(f"T{number},oak,{quarter},{grade},{width},{length},{value:.2f},{defects}")
    (folder / "boards.csv").write_text("\n".join(rows) + "\n")


if __name__ == "__main__":
    main()
