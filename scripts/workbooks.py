#!/usr/bin/env python3
"""Writes the job of `ripwright new` as workbooks by other programs and tells whether each is read as the folder is.

Usage: scripts/workbooks.py PROGRAM

Needs openpyxl, XlsxWriter and odfpy from the Python package index, and LibreOffice Calc (`soffice`). Cells that are
numbers in the CSV files are numbers in the workbooks, dates are dates, and in one of them whole numbers are formulas. A plan
of each workbook must be the plan of the folder, to the byte. Then the page changes a row of each as it changes that
of the folder, LibreOffice saves what comes of it once more, and the plans must be the same again.
"""
import csv
import datetime
import html
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import urllib.error
import urllib.request

import openpyxl
import xlsxwriter
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P


# Settings, as the sheet `shop` of a workbook has them.
SHOP = {"wood.defects": "none", "saw.rip_kerf": "3/32", "saw.stages": "2", "milling.end_trim": "1.5"}


def cell(text):
    """What a person who types it has in the cell."""
    if re.fullmatch(r"-?\d+(\.\d+)?", text):
        return float(text) if "." in text else int(text)
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        return datetime.date.fromisoformat(text)
    return text


def tables(folder):
    """Name and rows of each table of a job."""
    for path in sorted([*folder.glob("*.csv"), *folder.glob("prices/*.csv")]):
        name = path.stem if path.parent == folder else f"prices {path.stem}"
        rows = list(csv.reader(path.read_text().splitlines()))
        yield name, [[cell(text) for text in row] for row in rows if row]
    yield "shop", [["key", "value"], *([key, cell(value)] for key, value in SHOP.items())]


def by_openpyxl(folder, out):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in tables(folder):
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(out)


def by_xlsxwriter(folder, out):
    book = xlsxwriter.Workbook(out, {"default_date_format": "d mmm yyyy"})
    for name, rows in tables(folder):
        sheet = book.add_worksheet(name)
        for number, row in enumerate(rows):
            for column, value in enumerate(row):
                if isinstance(value, int):
                    # A formula with its value, as a program that reckons writes it.
                    sheet.write_formula(number, column, f"={value - 1}+1", None, value)
                else:
                    sheet.write(number, column, value)
    book.close()


def by_odfpy(folder, out):
    book = OpenDocumentSpreadsheet()
    for name, rows in tables(folder):
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for value in row:
                if isinstance(value, (int, float)):
                    made = TableCell(valuetype="float", value=value)
                elif isinstance(value, datetime.date):
                    made = TableCell(valuetype="date", datevalue=value.isoformat())
                else:
                    made = TableCell(valuetype="string")
                made.addElement(P(text=str(value)))
                line.addElement(made)
            table.addElement(line)
        book.spreadsheet.addElement(table)
    book.save(str(out))


def by_soffice(source, kind, times="saved"):
    """The same workbook opened and saved by LibreOffice Calc."""
    folder = source.parent / f"{times}-{source.stem}-{kind}"
    home = source.parent / "home"
    subprocess.run(
        ["soffice", f"-env:UserInstallation=file://{home}", "--headless", "--convert-to", kind, "--outdir", folder, source],
        check=True, capture_output=True,
    )
    return folder / f"{source.stem}.{kind}"


def changed_by_page(program, job):
    """The first part of the job gets another length at the local page, and a row more comes at the end."""
    page = subprocess.Popen([program, "serve", job, "--listen", "127.0.0.1:0"], stdout=subprocess.PIPE, text=True)
    try:
        address = next(word for line in page.stdout for word in line.split() if word.startswith("http://"))

        def post(path, body):
            request = urllib.request.Request(
                address.rstrip("/") + "/" + path, json.dumps(body).encode(), {"Content-Type": "application/json"}
            )
            with urllib.request.urlopen(request) as answer:
                return json.load(answer)

        with urllib.request.urlopen(address.rstrip("/") + "/table?name=parts.csv") as answer:
            text = answer.read().decode()
        row = re.search(r'<tr data-line="(\d+)"[^>]*data-seen="([^"]*)"', text)
        seen = json.loads(html.unescape(row[2]))
        header = re.findall(r'data-column="(\d+)" data-name="([^"]*)"', text)
        column = next(int(place) for place, name in header if name == "length")
        longer = [*seen]
        longer[column] = "17 1/2"
        longer[next(int(place) for place, name in header if name == "part")] = "spare & more"
        post("table/cell", {"table": "parts.csv", "line": int(row[1]), "seen": seen, "column": column, "text": "19"})
        post("table/row", {"table": "parts.csv", "cells": longer})
    finally:
        page.kill()


def main():
    program = sys.argv[1]
    work = pathlib.Path(tempfile.mkdtemp())
    subprocess.run([program, "new", work / "job"], check=True, capture_output=True)
    shop = work / "job" / "shop.toml"
    rooms = {}
    for key, value in SHOP.items():
        room, name = key.split(".")
        rooms.setdefault(room, []).append(f"{name} = {value if value.isdigit() else repr(value)}")
    shop.write_text("\n".join(f"[{room}]\n" + "\n".join(lines) for room, lines in rooms.items()))

    def planned(job):
        out = work / "out" / job.name
        command = [program, "plan", job, "--out", out, "--gap", "0", "--quiet"]
        run = subprocess.run(command, capture_output=True, text=True)
        if not (out / "plan.json").exists():
            print(run.stderr or run.stdout)
            return None
        return (out / "plan.json").read_bytes()

    wanted = planned(work / "job")
    made = []
    for name, write in [("openpyxl.xlsx", by_openpyxl), ("xlsxwriter.xlsx", by_xlsxwriter), ("odfpy.ods", by_odfpy)]:
        folder = work / name.replace(".", "-")
        folder.mkdir()
        write(work / "job", folder / name)
        made.append(folder / name)
        for kind in ["xlsx", "ods"]:
            saved = by_soffice(folder / name, kind)
            made.append(saved)
    wrong = 0
    for path in made:
        same = planned(path) == wanted
        wrong += not same
        print(f"{path.relative_to(work)}: {'the same plan' if same else 'ANOTHER PLAN'}")
    changed_by_page(program, work / "job")
    wanted = planned(work / "job")
    for path in made:
        try:
            changed_by_page(program, path)
        except urllib.error.HTTPError as error:
            why = error.read().decode()
            # A formula is the workbook's own, and here whole numbers are such.
            wrong += "xlsxwriter" not in path.as_posix() or "formula" not in why
            print(f"{path.relative_to(work)}, not changed: {why}")
            continue
        same = planned(path) == wanted
        saved = planned(by_soffice(path, "xlsx" if path.suffix == ".ods" else "ods", "again")) == wanted
        wrong += not (same and saved)
        print(f"{path.relative_to(work)}, changed: {'the same plan' if same and saved else 'ANOTHER PLAN'}")
    shutil.rmtree(work)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
