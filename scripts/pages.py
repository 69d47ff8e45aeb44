#!/usr/bin/env python3
"""Looks at every kind of page in a headless Chromium: as printed on Letter and A4, and on a phone 390 px wide.

Usage: scripts/pages.py RIPWRIGHT   (the program; Debian's chromium must be installed)

Fails where a printed text is smaller than 7 pt, where a number of a cut lies on another text or a cut, where a text stands
out from what lies under it by less than 4.5 to 1 in grey (WCAG 2.2, 1.4.3), where a phone would scroll sideways, and where a page asks for anything from outside or logs an error.
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

# Between a text and its ground, as grey.
LEAST_CONTRAST = 4.5

CONTRAST = """
const shown = box => box.width > 0 && box.height > 0;
// How much lighter the ground of a text is than the text, as grey.
const channel = value => value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
const grey = colour => {
    const [r, g, b, a] = colour.match(/[\\d.]+/g).map(Number);
    return a === 0 ? null : 0.2126 * channel(r / 255) + 0.7152 * channel(g / 255) + 0.0722 * channel(b / 255);
};
// Hatching is as dark as its strokes.
const HATCHED = 0.319;
const ground = (text, drawing) => {
    if (drawing && text.closest("text")) {
        const box = text.getBBox(), [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
        const under = [...drawing.querySelectorAll("rect")].filter(rect => {
            const its = rect.getBBox();
            return its.x <= x && x <= its.x + its.width && its.y <= y && y <= its.y + its.height;
        }).pop();
        const fill = under ? getComputedStyle(under).fill : "rgb(255, 255, 255)";
        return fill.startsWith("url") ? HATCHED : fill === "none" ? 1 : grey(fill) ?? 1;
    }
    for (let at = text; at; at = at.parentElement) {
        const found = grey(getComputedStyle(at).backgroundColor);
        if (found !== null) return found;
    }
    return 1;
};
let faintest = [21, ""];
for (const parent of document.querySelectorAll("body *")) {
    const own = [...parent.childNodes].some(node => node.nodeType === 3 && node.data.trim());
    if (!own || parent.closest("script, style, title, .notice, defs") || !shown(parent.getBoundingClientRect())) continue;
    const drawing = parent.closest("svg"), style = getComputedStyle(parent);
    // The numbers of cuts stand on a white edge of their own.
    const under = parent.classList.contains("step") ? 1 : ground(parent, drawing);
    const ink = grey(drawing ? style.fill : style.color) ?? under;
    const ratio = (Math.max(ink, under) + 0.05) / (Math.min(ink, under) + 0.05);
    if (ratio < faintest[0]) faintest = [ratio, parent.textContent.trim().slice(0, 40)];
}
"""

MEASURE = """
<script>
""" + CONTRAST + """
const found = [];
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
    smallest: [smallest[0] * 0.75, smallest[1]], faintest, found, wide: document.documentElement.scrollWidth,
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


def write_matched(job):
    """A job with a matched set, plugs, final sizes, and boards wider than the jointer."""
    (job / "prices").mkdir(parents=True)
    files = {
        "orders.csv": "order,product,quantity,due\nH-7,low chest,2,2027-03-01\n",
        "parts.csv": "product,part,pieces,length,width,thickness,species,glue_up,match\n"
        "low chest,drawer front,3,22 1/2,5 1/2,3/4,black cherry,no,fronts\n"
        "low chest,wide front,1,30,5 1/2,3/4,black cherry,no,fronts\n"
        "low chest,top,1,44,18,3/4,black cherry,yes,\nlow chest,leg,4,28,1 3/4,1 3/4,black cherry,no,\n",
        "prices/first-dealer.csv": "species,quarter,grade,width,length,price\n"
        "black cherry,4/4,1C,6 1/2,10',7.20\nblack cherry,4/4,1C,9,8',7.60\nblack cherry,8/4,1C,6,8',9.10\n",
        "holes.csv": "product,part,holes,kind,gauge,plug\nlow chest,leg,4,clearance,8,3/8\n",
        "shop.toml": '[wood]\ndefects = "none"\n[milling]\nlength_allowance = "1/16"\nwidth_allowance = "1/16"\n'
        '[stations]\nchop_saw = "60"\njointer = "8"\nplaner = "13"\n[matching]\npercent = "20"\n',
    }
    for name, text in files.items():
        (job / name).write_text(text)


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
        matched = folder / "matched"
        write_matched(matched)
        ripwright("plan", matched, "--time", 5, "--gap", 20)
        pages += [matched / "plan/sheets.html"]
        if 'class="triangle"' not in pages[-1].read_text():
            failures.append("no set lies in a row on the sheets of matched parts")
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
                failures += [f"{name}, {paper}: {line}" for line in crowded[:5]]
                print(f"{name}, {paper}: {numbers} numbers of cuts lie on nothing")
                size, what = seen["smallest"]
                print(f"{name}, {paper}: smallest text {size:.1f} pt ({what})")
                ratio, faint = seen["faintest"]
                if ratio < LEAST_CONTRAST:
                    failures.append(f"{name}, {paper}: \"{faint}\" stands out by {ratio:.1f} to 1")
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
