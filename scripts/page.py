#!/usr/bin/env python3
"""Uses the local page in a real headless Chromium as people do: edits, plans, stops, and the yard by taps at 390 px.

Usage: scripts/page.py PROGRAM [PICTURES]   (PICTURES is a folder for a picture of every page)
It begins a job, serves it, and fails if anything is not as a person must find it. Chromium is driven through its
debugging pipe, so nothing but Chromium and Python is needed.
"""
import base64
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request

from pages import CONTRAST, LEAST_CONTRAST
from sheets import FLAGS

PHONE, WIDE = 390, 1100


class Browser:
    """Chromium at the other end of a pipe; messages end with a zero byte."""

    def __init__(self, profile):
        (to_browser, self.to), (self.back, from_browser) = os.pipe(), os.pipe()
        moved = os.dup(to_browser), os.dup(from_browser)

        def take_places():
            os.dup2(moved[0], 3)
            os.dup2(moved[1], 4)

        arguments = ["chromium", *FLAGS, "--remote-debugging-pipe", f"--user-data-dir={profile}", "about:blank"]
        self.process = subprocess.Popen(
            arguments, preexec_fn=take_places, close_fds=False, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        for end in (to_browser, from_browser, *moved):
            os.close(end)
        self.number, self.buffer, self.errors = 0, b"", []

    def receive(self):
        while b"\0" not in self.buffer:
            read = os.read(self.back, 1 << 16)
            if not read:
                raise SystemExit("FAILED: Chromium is gone")
            self.buffer += read
        message, self.buffer = self.buffer.split(b"\0", 1)
        message = json.loads(message)
        if message.get("method") == "Runtime.exceptionThrown":
            self.errors.append(message["params"]["exceptionDetails"].get("exception", {}).get("description", "?"))
        return message

    def ask(self, method, session=None, **params):
        self.number += 1
        message = {"id": self.number, "method": method, "params": params}
        if session:
            message["sessionId"] = session
        os.write(self.to, json.dumps(message).encode() + b"\0")
        while True:
            answer = self.receive()
            if answer.get("id") == self.number:
                if "error" in answer:
                    raise SystemExit(f"FAILED: {method}: {answer['error']}")
                return answer["result"]

    def tab(self, address, width):
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        tab = Tab(self, target, session)
        for domain in ("Page", "Runtime", "Network"):
            tab.ask(f"{domain}.enable")
        tab.wide(width)
        tab.open(address)
        return tab

    def close(self):
        self.process.terminate()
        self.process.wait()


class Tab:
    def __init__(self, browser, target, session):
        self.browser, self.target, self.session = browser, target, session

    def ask(self, method, **params):
        return self.browser.ask(method, self.session, **params)

    def wide(self, width):
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=844, deviceScaleFactor=1, mobile=width == PHONE)

    def run(self, script):
        """The value of a script."""
        answer = self.ask("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        if "exceptionDetails" in answer:
            raise SystemExit(f"FAILED: {script}: {answer['exceptionDetails']}")
        return answer["result"].get("value")

    def until(self, script, what, seconds=20):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                if value := self.run(f"(() => {{ try {{ return ({script}) || false; }} catch {{ return false; }} }})()"):
                    return value
            except SystemExit:
                pass  # a page that is being left answers nothing
            time.sleep(0.05)
        raise SystemExit(f"FAILED: {what}\n{self.run('document.body.innerText')}")

    def open(self, address):
        self.ask("Page.navigate", url=address)
        self.until("document.readyState === 'complete' && location.href !== 'about:blank'", f"{address} does not open")

    def offline(self, is_off):
        self.ask("Network.emulateNetworkConditions", offline=is_off, latency=0, downloadThroughput=-1, uploadThroughput=-1)

    def type(self, selector, text):
        """Types into a field, and leaves it."""
        self.run(f"{{ const it = document.querySelector({json.dumps(selector)}); it.focus(); it.value = {json.dumps(text)}; "
                 "it.dispatchEvent(new Event('input', {bubbles: true})); it.dispatchEvent(new Event('change', {bubbles: true})); }")

    def click(self, selector):
        """As a script clicks, on a page that is whole."""
        self.until("document.readyState === 'complete'", "the page is whole")
        self.run(f"document.querySelector({json.dumps(selector)}).click()")

    def tap(self, selector):
        """A finger on the middle of an element that must be on the screen, once it is drawn where it stays."""
        script = (f"(() => {{ const it = document.querySelector({json.dumps(selector)}); it.scrollIntoView({{block: 'center'}}); "
                  "const box = it.getBoundingClientRect(); const at = [box.x + box.width / 2, box.y + box.height / 2]; "
                  "return it.contains(document.elementFromPoint(...at)) ? at : null; })()")
        place, before = self.run(script), None
        end = time.monotonic() + 5
        while (place is None or place != before) and time.monotonic() < end:
            time.sleep(0.1)
            place, before = self.run(script), place
        must(place is not None, f"nothing lies over {selector}")
        self.tap_at(*place)

    def tap_at(self, x, y):
        self.ask("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}])
        self.ask("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])

    def picture(self, file):
        size = self.ask("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": min(size["height"], 6000), "scale": 1}
        data = self.ask("Page.captureScreenshot", clip=clip, captureBeyondViewport=True)["data"]
        pathlib.Path(file).write_bytes(base64.b64decode(data))

    def close(self):
        self.browser.ask("Target.closeTarget", targetId=self.target)


def told(what):
    print(f"{time.monotonic() - START:6.1f} s  {what}")


def must(is_so, what):
    if not is_so:
        raise SystemExit(f"FAILED: {what}")


def soon(is_so, what, seconds=20):
    end = time.monotonic() + seconds
    while not is_so():
        must(time.monotonic() < end, what)
        time.sleep(0.05)


def status(address):
    try:
        return urllib.request.urlopen(address).status
    except urllib.error.HTTPError as error:
        return error.code


def served(program, job, listen):
    server = subprocess.Popen([program, "serve", job, "--listen", listen], stdout=subprocess.PIPE, text=True)
    for line in server.stdout:
        if "http://" in line:
            return server, next(word for word in line.split() if word.startswith("http://"))
    raise SystemExit("FAILED: nothing is served")


def edits(browser, address, job):
    parts = job / "parts.csv"
    before = parts.read_text()
    tab = browser.tab(f"{address}table?name=parts.csv", WIDE)
    cell = 'tr[data-line] input[data-name="width"]'
    good = tab.run(f"document.querySelector('{cell}').value")
    tab.type(cell, "wide")
    tab.until(f"document.querySelector('{cell}').getAttribute('aria-invalid') === 'true' && document.querySelector('{cell}').nextElementSibling.textContent.includes('expected')", "a fault stands beside its cell")
    must("wide" in parts.read_text(), "what is typed is in the file")
    tab.type(cell, good)
    tab.until(f"!document.querySelector('{cell}').hasAttribute('aria-invalid')", "a mended cell has no fault")
    must(parts.read_text() == before, "only the cell was changed")
    told("a fault stands beside its cell, and goes when it is mended")
    other = browser.tab(f"{address}table?name=parts.csv", WIDE)
    tab.type(cell, "2 1/4")
    soon(lambda: "2 1/4" in parts.read_text(), "it is stored")
    after = parts.read_text()
    other.type(cell, "2 3/8")
    other.until("document.getElementById('said').textContent.includes('changed elsewhere')", "the second tab is told of the first")
    must(other.run(f"document.querySelector('{cell}').value") == "2 3/8", "what was typed in the second tab is not lost")
    must(parts.read_text() == after, "the second tab overwrites nothing")
    other.close()
    told("two tabs that change one cell get a conflict, and both texts are there")
    for left in ("2 can be undone", "1 can be undone", ""):
        tab.click("#undo")
        tab.until(f"document.readyState === 'complete' && document.getElementById('undo-count').textContent === '{left}'", "undone")
    must(parts.read_text() == before, "everything is undone")
    told("three changes are undone to the byte")
    tab.type("tr.new input", "bench")
    tab.click(".add")
    tab.until("[...document.querySelectorAll('tr[data-line] input')].some((one) => one.value === 'bench')", "a row is added")
    must("bench" in parts.read_text(), "the row is in the file")
    tab.click("#undo")
    tab.until("![...document.querySelectorAll('tr[data-line] input')].some((one) => one.value === 'bench')", "the row is undone")
    tab.close()


def plans(browser, address, job):
    tab = browser.tab(f"{address}plan", WIDE)
    tab.type("[name=time]", "600")
    tab.type("[name=gap]", "0")
    tab.click("[type=submit]")
    tab.until("document.getElementById('said').textContent.includes('the best plan so far')", "the progress is shown", 60)
    tab.click(".stop")
    tab.until("!!document.querySelector('.sum')", "a plan that was stopped is shown", 60)
    must((job / "plan" / "sheets.html").exists(), "the sheets are written")
    told(f"planned and stopped: {tab.run('document.querySelector(`.sum`).textContent')}")
    must(not tab.run("document.querySelector('.caution')"), "the plan fits the job")
    tab.close()


def board(tab, width, length, defect=False):
    """Types one board in by taps."""
    tab.tap("[name=width]")
    for key in width:
        tab.tap(f'[data-key="{key}"]')
    tab.tap('[data-key="next"]')
    for key in length:
        tab.tap(f'[data-key="{key}"]')
    if defect:
        tab.tap("summary")
        x, y, wide, high = tab.run("(() => { const box = document.getElementById('outline').getBoundingClientRect(); return [box.x, box.y, box.width, box.height]; })()")
        tab.tap_at(x + wide * 0.4, y + high * 0.3)
        tab.tap_at(x + wide * 0.45, y + high * 0.6)
        must(".." in tab.run("document.getElementById('defects').textContent"), "two taps mark a defect")
        tab.tap("summary")
    start = time.monotonic()
    tab.tap("form#board [type=submit]")
    return start


def judged(tab, start):
    word = tab.until("!document.getElementById('verdict').hidden && ['Take', 'Maybe', 'Leave'].includes(document.querySelector('.word').textContent) && document.querySelector('.word').textContent", "a board is judged")
    return word, time.monotonic() - start


def yard(browser, address, job):
    tab = browser.tab(f"{address}yard", PHONE)
    tab.until("document.getElementById('needed').textContent !== 'being reckoned'", "the pieces are valued", 60)
    measured = job / "yard" / "measured.csv"
    rows = lambda: measured.read_text().strip().splitlines()[1:]
    word, took = judged(tab, board(tab, ["8"], ["8", "' "], defect=True))
    told(f"the first board is judged by taps: {word}, in {took:.2f} s")
    must(took < 2, "a word within two seconds")
    tab.tap("[data-decide=taken]")
    tab.until("document.getElementById('purse').textContent.includes('Taken: 1 board')", "it is taken")
    tab.offline(True)
    board(tab, ["6", " 1/2"], ["1", "0", "' "])
    tab.until("document.querySelector('.word').textContent === 'Not judged yet'", "a board is kept without a line")
    tab.tap("[data-decide=taken]")
    tab.until("document.getElementById('said').textContent.includes('waits on this phone')", "the phone says that it waits")
    must(len(rows()) == 1, "nothing arrives without a line")
    tab.offline(False)
    tab.until("document.getElementById('purse').textContent.includes('Taken: 2 boards')", "it is sent when the line is back", 30)
    must(len(rows()) == 2, "no board twice")
    told("a board that was typed without a line arrives once")
    tab.close()
    tab = browser.tab(f"{address}yard", PHONE)
    tab.until("document.querySelectorAll('#boards li').length === 2", "the list survives a closed tab")
    tab.tap("#undo")
    tab.until("document.getElementById('purse').textContent.includes('Taken: 1 board')", "the last decision is undone")
    tab.tap("[data-decide=left]")
    tab.until("[...document.querySelectorAll('#boards li')].some((one) => one.textContent.includes('left'))", "it is left")
    tab.until("document.getElementById('needed').textContent.includes(' of ')", "what is still needed is told", 30)
    tab.tap("#finish")
    tab.until("!!document.querySelector('.sum')", "the cutting of what was bought is planned", 60)
    must(len((job / "yard" / "bought.csv").read_text().strip().splitlines()) == 2, "the tally has the board taken")
    told("the tally is written and its cutting planned")
    tab.close()


def fits(browser, address, pictures):
    pages = {"job": "", "parts": "table?name=parts.csv", "settings": "settings", "plan": "plan", "compare": "compare",
             "scenarios": "scenarios", "rack": "rack", "yard": "yard"}
    for name, page in pages.items():
        for width in (PHONE, WIDE):
            tab = browser.tab(address + page, width)
            if name == "yard":
                tab.until("document.getElementById('boards').children.length > 0", "the yard shows its boards")
            over = tab.run("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            must(over <= 0, f"{name} scrolls sideways by {over} at {width} px")
            bare = tab.run("[...document.querySelectorAll('input, select, textarea')].filter((one) => !one.labels?.length && !one.ariaLabel && !one.getAttribute('aria-label')).length")
            must(bare == 0, f"{name}: {bare} fields have no label")
            ratio, text = tab.run("(() => {" + CONTRAST + "return faintest; })()")
            must(ratio >= LEAST_CONTRAST, f"{name}: {text!r} stands out {ratio:.1f} to 1 at {width} px")
            if pictures:
                tab.picture(pictures / f"{name}-{width}.png")
            tab.close()
    told("no page scrolls sideways on a phone, every field has a label, every text stands out")


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    pictures = pathlib.Path(sys.argv[2]) if len(sys.argv) > 2 else None
    if pictures:
        pictures.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        job = pathlib.Path(place) / "job"
        subprocess.run([program, "new", job], check=True, stdout=subprocess.DEVNULL)
        server, address = served(program, job, "127.0.0.1:0")
        browser = Browser(pathlib.Path(place) / "profile")
        try:
            edits(browser, address, job)
            plans(browser, address, job)
            yard(browser, address, job)
            fits(browser, address, pictures)
            other, keyed = served(program, job, "0.0.0.0:0")
            try:
                wrong = keyed.rstrip("/")[:-4] + "0000/"
                must(status(keyed) == 200 and status(wrong) == 404, "another key opens nothing")
                tab = browser.tab(keyed + "yard", PHONE)
                tab.until("document.getElementById('boards').children.length > 0", "the page works under its key")
                told("a wrong key opens nothing")
            finally:
                other.terminate()
            must(not browser.errors, f"scripts failed: {browser.errors}")
        finally:
            browser.close()
            server.terminate()
            server.wait()


START = time.monotonic()
if __name__ == "__main__":
    main()
