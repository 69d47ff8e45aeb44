#!/usr/bin/env python3
"""Writes a job of many products and an order book of many lines, for `ripwright nightly`.

Usage: scripts/book.py FOLDER [LINES] [PRODUCTS] [WEEKS]   (1000000 lines of 2000 products in 12 weeks by default)
Products are put together from 240 standard part sizes, as a shop's are; one line in 10000 is bad, some
are done or cancelled.
"""
import datetime
import pathlib
import random
import sys

import jobs


def main():
    folder = pathlib.Path(sys.argv[1])
    lines = int(sys.argv[2]) if len(sys.argv) > 2 else 1_000_000
    products = int(sys.argv[3]) if len(sys.argv) > 3 else 2_000
    weeks = int(sys.argv[4]) if len(sys.argv) > 4 else 12
    jobs.shop_job(folder, 240, 60, "book")
    chance = random.Random(f"book {lines} {products}")
    standard = [row.split(",", 3)[3] for row in (folder / "parts.csv").read_text().split("\n")[1:] if row]
    rows = ["product,part,pieces,length,width,thickness,species,grade"]
    for product in range(products):
        for number, size in enumerate(chance.sample(standard, chance.randint(2, 6)), 1):
            rows.append(f"product {product},part {number},{chance.randint(1, 4)},{size}")
    (folder / "parts.csv").write_text("\n".join(rows) + "\n")
    monday = datetime.date(2027, 1, 4)
    with (folder / "orders.csv").open("w") as book:
        book.write("order,product,quantity,due,status\n")
        for line in range(lines):
            due = monday + datetime.timedelta(days=chance.randrange(7 * weeks))
            product, quantity = chance.randrange(products), chance.randint(1, 3)
            status = chance.choice(["", "open", "open", "open", "done", "cancelled"])
            if chance.random() < 1e-4:
                quantity = chance.choice(["", "-1", "two", "1e9"])
            book.write(f"A{line},product {product},{quantity},{due},{status}\n")


if __name__ == "__main__":
    main()
