#!/usr/bin/env python3
"""Looks at every kind of page in a headless Chromium: as printed on Letter and A4, and on a phone 390 px wide.

Usage: scripts/pages.py RIPWRIGHT   (the program; Debian's chromium must be installed)

Fails where a printed text is smaller than 7 pt, where more than one in a hundred numbers of cuts lies on another text or a
cut, where a phone would scroll sideways, and where a page asks for anything from outside or logs an error.
"""
import html
import json
import pathlib
import re
import subprocess
import sys
import tempfile

from sheets import asked_outside, chromium

# Widths between the margins of the pages (12 mm each), in CSS pixels.
PAPERS = {"Letter": (8.5 * 25.4 - 24) / 25.4 * 96, "A4": (210 - 24) / 25.4 * 96}
PHONE = 390

# Share of the cuts' numbers that may touch a letter or a cut.
MOST_CROWDED = 0.01

MEASURE = """
<script>
const found = [];
const shown = box => box.width > 0 && box.height > 0;
const meet = (a, b, slack) => a.left + slack < b.right && b.left + slack < a.right
    && a.top + slack < b.bottom && b.top + slack < a.bottom;
// Texts, by their size as it comes out.
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
let smallest = [1e9, ""];
for (let node; (node = walk.nextNode());) {
    const parent = node.parentElement;
    if (!node.data.trim() || parent.closest("script, style, title, .notice")) continue;
    let size = parseFloat(getComputedStyle(parent).fontSize);
    const drawing = parent.closest("svg");
    if (drawing && drawing.viewBox.baseVal.width) size *= drawing.getBoundingClientRect().width / drawing.viewBox.baseVal.width;
    if (!shown(parent.getBoundingClientRect())) continue;
    if (size < smallest[0]) smallest = [size, node.data.trim().slice(0, 40)];
}
for (const drawing of document.querySelectorAll("svg")) {
    const texts = [...drawing.querySelectorAll("text")].map(text => [text, text.getBBox()])
        .map(([text, box]) => [text, { left: box.x, right: box.x + box.width, top: box.y, bottom: box.y + box.height }]);
    const title = drawing.getAttribute("aria-label");
    texts.forEach(([one, box], place) => {
        for (const [other, its] of texts.slice(0, place))
            // Half a letter's width of a box is air.
            if (meet(box, its, 5)) found.push(`${title}: "${one.textContent}" lies on "${other.textContent}"`);
        if (one.classList.contains("step"))
            for (const path of drawing.querySelectorAll(".cut"))
                // One path has all cuts, each a box.
                for (const cut of path.getAttribute("d").matchAll(/M([\\d.]+) ([\\d.]+)h([\\d.]+)v([\\d.]+)/g)) {
                    const [x, y, width, height] = cut.slice(1).map(Number);
                    if (meet(box, { left: x, right: x + width, top: y, bottom: y + height }, 5))
                        found.push(`${title}: the number ${one.textContent} lies on a cut`);
                }
    });
}
document.documentElement.innerHTML = "<head></head><body>" + JSON.stringify({
    smallest: [smallest[0] * 0.75, smallest[1]], found, wide: document.documentElement.scrollWidth,
}).replace(/&/g, "&amp;").replace(/</g, "&lt;") + "</body>";
</script>
"""


def measured(text, folder, width, printed):
    """What a page looks like at a width: smallest text in pt, what lies on each other, how wide it is."""
    if printed:
        text = text.replace("@media print", "@media all").replace("@media screen", "@media speech")
        # On paper a narrow window's rules do not hold.
        text = re.sub(r"@media \(max-width", "@media (max-device-width: 1px) and (max-width", text)
    inner, outer = folder / "inner.html", folder / "outer.html"
    inner.write_text(text.replace("</body>", MEASURE + "</body>"))
    # A window cannot be narrower than 500 px, a frame can.
    outer.write_text(
        f'<iframe src="{inner.as_uri()}" style="width:{width}px;height:800px;border:0"></iframe><p></p><script>'
        'const frame = document.querySelector("iframe"); frame.onload = () => '
        'document.querySelector("p").textContent = frame.contentDocument.body.textContent;</script>'
    )
    # A frame is read by the page around it, and both are given the time to load.
    _, dom, log = chromium(
        "--allow-file-access-from-files", "--virtual-time-budget=10000", "--dump-dom", outer.as_uri()
    )
    told = re.search(r"<p>(.*?)</p>", dom, re.S)
    return json.loads(html.unescape(told.group(1))), [line for line in log.splitlines() if "CONSOLE" in line]


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    failures = []
    with tempfile.TemporaryDirectory() as place:
        folder = pathlib.Path(place)
        pages = []

        def ripwright(*arguments):
            # A plan that time stopped is a plan.
            subprocess.run([program, *map(str, arguments)], check=False, capture_output=True)

        for unit in ("in", "mm"):
            job = folder / unit
            ripwright("demo", job, "--unit", unit, "--clear")
            ripwright("plan", job, "--time", 5, "--labels", "order")
            ripwright("compare", job, "--time", 5, "--out", job / "compare")
            pages += [job / "plan/sheets.html", job / "plan/labels.html", job / "compare/compare.html"]
        cabinets = folder / "cabinets"
        ripwright("demo", cabinets, "--making", "cabinets", "--clear")
        ripwright("plan", cabinets, "--time", 5, "--labels", "order")
        pages += [cabinets / "plan/sheets.html", cabinets / "plan/labels.html"]
        drawn = folder / "drawn"
        ripwright("new", drawn)
        ripwright("plan", drawn, "--time", 5)
        pages += [drawn / "plan/sheets.html", drawn / "plan/labels.html"]
        for page in pages:
            name = page.relative_to(folder)
            text = page.read_text()
            failures += [f"{name} asks for {outside}" for outside in asked_outside(text)]
            if not text.rstrip().endswith("</html>"):
                failures.append(f"{name} is not whole")
            for paper, width in PAPERS.items():
                seen, log = measured(text, folder, width, True)
                failures += [f"{name}, {paper}: {line}" for line in log]
                crowded, numbers = seen["found"], text.count('<text class="step')
                # A drawing of the smallest pieces has no room for everything.
                if len(crowded) > MOST_CROWDED * max(numbers, 1):
                    failures += [f"{name}, {paper}: {line}" for line in crowded[:5]]
                if numbers:
                    print(f"{name}, {paper}: {len(crowded)} of {numbers} numbers have no room")
                size, what = seen["smallest"]
                print(f"{name}, {paper}: smallest text {size:.1f} pt ({what})")
                if size < 7:
                    failures.append(f"{name}, {paper}: \"{what}\" is {size:.1f} pt")
            seen, log = measured(text, folder, PHONE, False)
            failures += [f"{name}, phone: {line}" for line in log]
            print(f"{name}, phone: {seen['wide']} px wide")
            if seen["wide"] > PHONE:
                failures.append(f"{name}: a phone scrolls sideways, {seen['wide']} px for {PHONE}")
    for failure in failures:
        print(f"FAILED: {failure}")
    sys.exit(bool(failures))


if __name__ == "__main__":
    main()
