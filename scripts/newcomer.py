#!/usr/bin/env python3
"""Takes the README's first steps as a newcomer does, from an empty folder, and tells how long that takes.

Usage: scripts/newcomer.py PROGRAM
The commands are those of the README's section "Your own job". Between them a stool's parts, its order and one dealer's prices are
typed. Typing is reckoned at four keys a second, and a minute for reading the answer and the files; the program is timed.
It fails above five minutes, or where a step does not work.
"""
import pathlib
import re
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
KEYS_A_SECOND = 4
READING = 60
MOST = 300

TYPED = {
    "parts.csv": """product,part,pieces,length,width,thickness,species
kitchen stool,leg,4,24,1 1/2,1 1/2,red oak
kitchen stool,seat board,2,14,6 1/2,3/4,red oak
kitchen stool,rail,4,11,2 1/2,3/4,red oak
kitchen stool,rung,4,11 1/2,1,3/4,red oak
""",
    "orders.csv": "order,product,quantity\n1,kitchen stool,4\n",
    "prices/first-dealer.csv": """species,quarter,grade,width,length,price
red oak,4/4,1C,5..9,7'..10',4.10
red oak,8/4,1C,5..9,7'..10',5.20
""",
}


def steps():
    """The commands of the README, without their comments."""
    section = (ROOT / "README.md").read_text().split("## Your own job")[1]
    block = re.search(r"```sh\n(.*?)```", section, re.S).group(1)
    return [line.split("#")[0].strip() for line in block.splitlines()]


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    typed, spent = 0, 0.0
    with tempfile.TemporaryDirectory() as place:
        place = pathlib.Path(place)
        commands = steps()
        for number, command in enumerate(commands):
            if number == len(commands) - 1:
                # The job is filled in before it is planned.
                for name, text in TYPED.items():
                    (place / "shop-job" / name).write_text(text)
                    typed += len(text)
            typed += len(command) + 1
            start = time.monotonic()
            words = [program if word == "ripwright" else word for word in command.split()]
            done = subprocess.run(words, cwd=place, capture_output=True, text=True)
            spent += time.monotonic() - start
            if done.returncode not in (0, 4):
                raise SystemExit(f"FAILED: {command}: {done.stderr}")
            print(f"{command}\n{done.stdout}")
        if not (place / "shop-job" / "plan" / "sheets.html").exists():
            raise SystemExit("FAILED: there are no sheets")
    seconds = typed / KEYS_A_SECOND + READING + spent
    print(f"{typed} keys in {typed / KEYS_A_SECOND:.0f} s, the program {spent:.0f} s, reading {READING} s: {seconds:.0f} s")
    if seconds > MOST:
        raise SystemExit(f"FAILED: over {MOST} s")


if __name__ == "__main__":
    main()
