#!/usr/bin/env python3
"""Prints labels as a PDF and reads every code back from the page as it comes out, by another library (zbar).

Usage: scripts/labels.py RIPWRIGHT   (Debian's chromium, poppler-utils and zbar-tools must be installed)
"""
import collections
import pathlib
import subprocess
import sys
import tempfile

from sheets import chromium

# Dots an inch: a picture taken by a phone held over a label has as many or more.
RESOLUTIONS = (150, 300)

ORDERS = {"SOON": 1, "LATE": 2}
# Name, pieces, finished size.
PARTS = [("tread", 2, "14 x 5 1/2 x 3/4"), ("side", 2, "11 1/4 x 7 x 3/4"), ("rail", 1, "12 1/2 x 2 x 3/4")]


def write_job(job):
    """A stool in two orders."""
    (job / "prices").mkdir(parents=True)
    orders = "".join(f"{order},step stool,{stools}\n" for order, stools in ORDERS.items())
    (job / "orders.csv").write_text("order,product,quantity\n" + orders)
    rows = "".join(f"step stool,{name},{pieces},{','.join(size.split(' x '))},red oak\n" for name, pieces, size in PARTS)
    (job / "parts.csv").write_text("product,part,pieces,length,width,thickness,species\n" + rows)
    (job / "prices/first-dealer.csv").write_text("species,quarter,grade,width,length,price\nred oak,4/4,1C,8,8',4.10\n")


def expected():
    """What the codes say, with the labels that say it."""
    said = collections.Counter()
    for order, stools in ORDERS.items():
        for name, pieces, size in PARTS:
            count = pieces * stools
            counted = "1 piece" if count == 1 else f"{count} pieces"
            said[f"{order}; step stool; {name}; {counted}; {size} in; red oak"] += count
    return said


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    with tempfile.TemporaryDirectory() as place:
        folder = pathlib.Path(place)
        write_job(folder / "job")
        subprocess.run(
            [program, "plan", folder / "job", "--out", folder, "--labels", "piece", "--time", "5", "--quiet"],
            check=False, capture_output=True,
        )
        pdf = folder / "labels.pdf"
        chromium(f"--print-to-pdf={pdf}", "--no-pdf-header-footer", (folder / "labels.html").as_uri())
        for dots in RESOLUTIONS:
            subprocess.run(["pdftoppm", "-gray", "-r", str(dots), "-png", pdf, folder / f"at{dots}"], check=True)
            pictures = sorted(folder.glob(f"at{dots}-*.png"))
            read = subprocess.run(["zbarimg", "-q", "--raw", *pictures], check=True, capture_output=True, text=True)
            said = collections.Counter(read.stdout.splitlines())
            print(f"{said.total()} codes read at {dots} dots an inch")
            if said != expected():
                print(f"lacking: {expected() - said}, and not expected: {said - expected()}")
                sys.exit(1)


main()
