#!/usr/bin/env python3
"""Opens a sheets.html in a real headless Chromium: loads it, prints it on Letter and A4, takes pictures.

Usage: scripts/sheets.py SHEETS.html OUT   (Debian's chromium is installed if it is missing and this is root)
It fails if the page asks for anything over a network, logs an error, or prints nothing.
"""
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import time

FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --enable-logging=stderr"
).split()


def chromium(*arguments):
    """(seconds, what it printed, what it logged)."""
    with tempfile.TemporaryDirectory() as profile:
        command = ["chromium", *FLAGS, f"--user-data-dir={profile}", *map(str, arguments)]
        for again in (True, False):
            start = time.monotonic()
            done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
            # A browser that was killed by a signal is started once more: that is its own fault, not the page's.
            if done.returncode >= 0 or not again:
                done.check_returncode()
                return time.monotonic() - start, done.stdout, done.stderr


def asked_outside(text):
    """What a page asks for beside itself."""
    return re.findall(r'(?:src|href)\s*=\s*"(?!#)[^"]*"|url\((?!#)[^)]*\)|@import', text)


def main():
    page, out = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2])
    out.mkdir(parents=True, exist_ok=True)
    if not shutil.which("chromium"):
        subprocess.run(["apt-get", "install", "-y", "--no-install-recommends", "chromium"], check=True)
    text = page.read_text()
    failures = [f"asks for {one}" for one in asked_outside(text)]
    blank = out / "blank.html"
    blank.write_text("<title>blank</title>")
    chromium("--dump-dom", blank.resolve().as_uri())  # the first start is a cold one
    empty, _, _ = chromium("--dump-dom", blank.resolve().as_uri())
    whole, dom, log = chromium("--dump-dom", page.as_uri())
    failures += [line for line in log.splitlines() if "CONSOLE" in line]
    if "</html>" not in dom:
        failures.append("the page was not loaded whole")
    for paper, size in (("letter", "8.5in 11in"), ("a4", "210mm 297mm")):
        copy = out / f"{paper}.html"
        copy.write_text(text.replace("@page {", f"@page {{ size: {size};", 1))
        _, _, _ = chromium(f"--print-to-pdf={out / (paper + '.pdf')}", "--no-pdf-header-footer", copy.resolve().as_uri())
        pdf = (out / f"{paper}.pdf").read_bytes()
        pages = len(re.findall(rb"/Type\s*/Page\b", pdf))
        boxes = set(re.findall(rb"/MediaBox\s*\[([^\]]*)\]", pdf))
        print(f"{paper}: {pages} pages, box {b', '.join(boxes).decode()}")
        if pages == 0:
            failures.append(f"nothing is printed on {paper}")
        copy.unlink()
    for name, width in (("wide", 1100), ("phone", 390)):
        chromium(f"--screenshot={out / (name + '.png')}", f"--window-size={width},2400", page.as_uri())
    blank.unlink()
    boards = text.count('class="board"')
    print(f"{boards} drawings, {len(text.encode()) / 1e6:.2f} MB; opened in {whole:.2f} s, an empty page in {empty:.2f} s")
    for failure in failures:
        print(f"FAILED: {failure}")
    sys.exit(bool(failures))


if __name__ == "__main__":
    main()
