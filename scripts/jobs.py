#!/usr/bin/env python3
"""Job folders for benchmarks: open sets, published recipes, and seeded random shops.

Used by scripts/reach.py; run alone, `scripts/jobs.py KIND OUT` writes the jobs of one kind.
Sets are read from ../shared/data (the ESICUP collection), beside the repository.
"""
import pathlib
import random
import sys
import zipfile

DATA = pathlib.Path(__file__).resolve().parent.parent.parent / "shared" / "data"

PLAIN_SHOP = """unit = "mm"
[saw]
rip_kerf = "{kerf}"
crosscut_kerf = "{kerf}"
max_rip_width = "1000in"
max_crosscut_length = "1000in"
stages = {stages}
[milling]
end_trim = "0"
edge_trim = "0"
[safety]
min_machined_length = "0"
"""


def write(folder, shop, parts, prices, suppliers=None):
    """Writes a job of one order of one product; prices are by dealer."""
    folder = pathlib.Path(folder)
    (folder / "prices").mkdir(parents=True, exist_ok=True)
    # Boards are clear, as in the sets that are published, unless the shop says otherwise.
    wood = "" if "[wood]" in shop else '[wood]\ndefects = "none"\n'
    (folder / "shop.toml").write_text(shop + wood)
    (folder / "orders.csv").write_text("order,product,quantity\n1,P,1\n")
    rows = ["product,part,pieces,length,width,thickness,species,grade"]
    rows += [f"P,p{number},{row}" for number, row in enumerate(parts, 1)]
    (folder / "parts.csv").write_text("\n".join(rows) + "\n")
    for dealer, lines in prices.items():
        rows = ["species,quarter,grade,width,length,price,per"] + lines
        (folder / "prices" / f"{dealer}.csv").write_text("\n".join(rows) + "\n")
    if suppliers:
        (folder / "suppliers.csv").write_text("\n".join(suppliers) + "\n")


def one_dimensional(folder, capacity, sizes):
    """Boards as wide as the parts, no kerf, no trim, one unit of money a board; in millimetres."""
    demand = {}
    for size in sizes:
        demand[size] = demand.get(size, 0) + 1
    parts = [f"{n},{size},4,19,oak,1C" for size, n in sorted(demand.items(), reverse=True)]
    write(folder, PLAIN_SHOP.format(kerf=0, stages=2), parts, {"yard": [f"oak,4/4,1C,4,{capacity},1,piece"]})


def falkenauer(path):
    """(name, capacity, best known, sizes) of an OR-Library bin packing file."""
    words = iter(path.read_text().split())
    for _ in range(int(next(words))):
        name = next(words)
        capacity, count, best = float(next(words)), int(next(words)), int(next(words))
        sizes = [float(next(words)) for _ in range(count)]
        # Triplets have one decimal: ten times as large they are whole.
        whole = all(size == int(size) for size in sizes)
        factor = 1 if whole else 10
        yield name, round(capacity * factor), best, [round(size * factor) for size in sizes]


def uniform(items, number):
    """Falkenauer's recipe: sizes 20..100, capacity 150."""
    chance = random.Random(f"uniform {items} {number}")
    return 150, [chance.randint(20, 100) for _ in range(items)]


def triplets(items, number):
    """Falkenauer's recipe: capacity 1000, every bin of the optimum filled by three items."""
    chance = random.Random(f"triplets {items} {number}")
    sizes = []
    for _ in range(items // 3):
        large = chance.randint(380, 490)
        second = chance.randint(250, (1000 - large) // 2)
        sizes += [large, second, 1000 - large - second]
    return 1000, sizes


def gilmore_gomory(sizes, number):
    """Sizes 500..4000 of a capacity of 10000, demands 1..100."""
    chance = random.Random(f"gilmore gomory {sizes} {number}")
    chosen = chance.sample(range(500, 4001), sizes)
    return 10000, [size for size in chosen for _ in range(chance.randint(1, 100))]


def perfect(items, number):
    """Boards of 10000 cut without waste into three to five pieces, then one piece a unit shorter."""
    chance = random.Random(f"perfect {items} {number}")
    sizes = []
    while len(sizes) < items:
        count = chance.randint(3, 5)
        marks = sorted(chance.sample(range(10, 100), count - 1))
        marks = [0] + [mark * 100 + chance.randint(-50, 50) for mark in marks] + [10000]
        sizes += [after - before for before, after in zip(marks, marks[1:])]
    sizes[chance.randrange(len(sizes))] -= 1
    return 10000, [size for size in sizes if size > 0]


def plates():
    """The two-dimensional sets that have demands, or whose pieces are wanted once each."""
    named = (("gcut", 13), ("cgcut", 3))
    return [DATA / name / f"{name}{n}.txt" for name, most in named for n in range(1, most + 1)]


def plate(path):
    """Length and width of a set's one board, and its pieces as (length, width, demand); 1 where none is given."""
    words = iter(path.read_text().split())
    count, length, width = (int(next(words)) for _ in range(3))
    demands = path.name.startswith("cgcut")
    pieces = []
    for _ in range(count):
        long, wide = int(next(words)), int(next(words))
        pieces.append((long, wide, int(next(words)) if demands else 1))
        next(words)
    return length, width, pieces


def plate_job(folder, path):
    """A two-dimensional set on boards of its one size, grain along the length: the demands given, else 1."""
    length, width, pieces = plate(path)
    parts = [f"{many},{long},{wide},19,oak,1C" for long, wide, many in pieces]
    write(folder, PLAIN_SHOP.format(kerf=0, stages=2), parts, {"yard": [f"oak,4/4,1C,{width},{length},1,piece"]})


def numbers(text):
    """(capacity, sizes) of a problem: a count, a capacity, then an item or a pair a line."""
    lines = [line.split() for line in text.split("\n") if line.strip()]
    capacity = int(lines[1][0])
    sizes = []
    for words in lines[2:]:
        sizes += [int(words[0])] * (int(words[1]) if len(words) > 1 else 1)
    return capacity, sizes


def open_set(word):
    """(name, capacity, sizes) of every problem of a folder of the open data."""
    if word == "scholl":
        with zipfile.ZipFile(DATA / "scholl" / "bin3data.zip") as bundle:
            for name in sorted(bundle.namelist()):
                yield name.split(".")[0], *numbers(bundle.read(name).decode())
        return
    for path in sorted((DATA / word).iterdir()):
        if path.name.lower().startswith("readme"):
            continue
        for problem in path.read_text().split("'")[1:]:
            # Quotes enclose names: texts between them alternate with names.
            if problem.strip() and "\n" not in problem:
                name = "".join(problem.split())
            elif problem.strip():
                yield name, *numbers(problem)


QUARTERS = {"4/4": (0.75, 1.0), "5/4": (1.0, 1.3), "6/4": (1.25, 1.65), "8/4": (1.75, 2.3)}


def shop_job(folder, sizes, lines, seed, stages=2, pieces=(4, 40)):
    """A furniture shop: `sizes` part sizes of one species in four thicknesses, `lines` price lines of
    three dealers in four classes, kerf and trims as in any shop."""
    chance = random.Random(f"shop {sizes} {lines} {seed}")
    thicknesses = [0.75, 0.75, 0.75, 1.0, 1.25, 1.75]
    parts = set()
    while len(parts) < sizes:
        length, width = chance.randint(48, 288) / 4, chance.randint(8, 32) / 4
        parts.add((length, width, chance.choice(thicknesses), chance.choice(["1C", "1C", "FAS"])))
    parts = [f"{chance.randint(*pieces)},{l},{w},{t},oak,{g}" for l, w, t, g in sorted(parts)]
    dealers = {"north": 1.0, "south": 0.97, "east": 1.04}
    prices = {dealer: [] for dealer in dealers}
    offered = set()
    while len(offered) < lines:
        quarter = chance.choice(list(QUARTERS))
        grade = chance.choice(["1C", "FAS"])
        width, length = chance.randint(5, 12), chance.choice([72, 84, 96, 108, 120, 144])
        dealer = chance.choice(list(dealers))
        line = (dealer, quarter, grade, width, length)
        if line in offered:
            continue
        offered.add(line)
        rate = 6.0 * dealers[dealer] * QUARTERS[quarter][1] ** 0.3 * (1.35 if grade == "FAS" else 1.0)
        rate *= (1 + 0.02 * (width - 5)) * chance.uniform(0.95, 1.05)
        prices[dealer].append(f"oak,{quarter},{grade},{width},{length},{rate:.2f},bf")
    # Something must be thick, good and large enough for every part.
    prices["north"].append("oak,8/4,FAS,10,96,9.90,bf")
    shop = f'unit = "in"\n[saw]\nstages = {stages}\n'
    write(folder, shop, parts, {d: rows for d, rows in prices.items() if rows})


def piece_job(folder, rows, number, wood="none"):
    """One piece of furniture: walnut in two to four classes, up to five pieces a row, a few board sizes a
    class at prices that rise with class, width and length; the largest board is always sold at FAS."""
    chance = random.Random(f"piece {rows} {number}")
    classes = sorted(chance.sample(["4/4", "5/4", "6/4", "8/4"], chance.randint(2, 4)), key=lambda c: int(c[0]))
    dressed = {"4/4": 13 / 16, "5/4": 1 + 1 / 16, "6/4": 1 + 5 / 16, "8/4": 1.75}
    prices = []
    for place, quarter in enumerate(classes):
        sizes = set()
        while len(sizes) < chance.randint(3, 7):
            sizes.add((chance.randint(5, 10), chance.randint(6, 12)))
        largest = max(sizes, key=lambda size: size[0] * size[1])
        for width, length in sorted(sizes):
            rate = 7 + 3 * place / 3 + 1.5 * (width - 5) / 5 + 1.5 * (length - 6) / 6
            rate = min(13, max(7, rate * chance.uniform(0.97, 1.03)))
            prices.append(f"walnut,{quarter},FAS,{width},{length}ft,{rate:.2f},bf")
            if (width, length) != largest and chance.random() < 0.65:
                prices.append(f"walnut,{quarter},1C,{width},{length}ft,{rate * 0.66:.2f},bf")
    # Every part fits the largest board of each class that is thick enough for it.
    room = {}
    for line in prices:
        _, quarter, grade, width, length, *_ = line.split(",")
        if grade == "FAS":
            wide, long = float(width) - 0.5, float(length[:-2]) * 12 - 2
            room.setdefault(quarter, []).append((wide, long))
    parts = []
    while len(parts) < rows:
        quarter = chance.choice(classes)
        length, width = chance.randint(5 * 16, 66 * 16) / 16, chance.randint(20, 128) / 16
        fits = any(
            wide >= width and long >= length
            for other, boards in room.items()
            if dressed[other] >= dressed[quarter]
            for wide, long in boards
        )
        if not fits:
            continue
        grade = chance.choice(["FAS", "1C"]) if chance.random() < 1 / 3 else ""
        parts.append(f"{chance.randint(1, 5)},{length},{width},{dressed[quarter]},walnut,{grade}")
    shop = f'unit = "in"\n[wood]\ndefects = "{wood}"\n'
    write(folder, shop, parts, {"yard": prices})


KITCHEN_SHOP = """unit = "mm"
currency = "EUR"
[wood]
defects = "{wood}"
[sheet_saw]
kerf = "3.2"
trim = "10"
stages = {stages}
longest_rip = "1300"
"""

KITCHEN_PRICES = {
    "boardworks": [
        "species,quarter,grade,width,length,price,per,available,material,core,grain",
        "birch,18,both,1220,2440,78.00,piece,,sheet,ply,along",
        "birch,18,one,1525,1525,57.00,piece,,sheet,ply,along",
        "birch,6,one,1220,2440,9.20,m2,,sheet,ply,along",
    ],
    "panelhouse": [
        "species,quarter,grade,width,length,price,per,available,material,core,grain",
        "birch,18,one,1220,2440,66.00,piece,,sheet,ply,along",
        "birch,18,both,1250,2500,27.40,m2,,sheet,ply,along",
        "birch,6,one,1220,2440,31.00,piece,,sheet,mdf,none",
        "oak,27mm,FAS,180,2700,2450,m3,,,,",
        "cherry,27mm,FAS,160,2400,2900,m3,,,,",
        "oak,27mm,1C,150,2100,1600,m3,,,,",
    ],
}


def kitchen_job(folder, number, kitchens=1, stages=2, wood="none"):
    """A kitchen of carcases, backs and drawers of birch sheets of two thicknesses, with frames in two woods: 120 part rows
    and about 300 pieces. Sizes in millimetres, an invented recipe."""
    chance = random.Random(f"kitchen {number}")
    folder = pathlib.Path(folder)
    (folder / "prices").mkdir(parents=True, exist_ok=True)
    rows = ["product,part,pieces,length,width,thickness,species,material,grade,grain,edges"]
    products = []
    while len(rows) < 118:
        width, tall = chance.choice([300, 400, 450, 500, 600, 800, 900]), chance.choice([720, 720, 360, 1970])
        deep = chance.choice([560, 560, 320, 580])
        name = f"cabinet {len(products) + 1}"
        products.append(name)
        wood_of = "oak" if len(products) % 3 else "cherry"
        inside = width - 36
        edge = "1;0;0;0"
        many = chance.choice([1, 1, 2])
        rows += [
            f"{name},side,{2 * many},{tall},{deep},18,birch,sheet,one,along,{edge}",
            f"{name},bottom,{many},{inside},{deep},18,birch,sheet,one,across,{edge}",
            f"{name},rail,{2 * many},{inside},100,18,birch,sheet,one,any,",
            f"{name},shelf,{many * chance.randint(1, 2)},{inside - 2},{deep - 20},18,birch,sheet,both,any,{edge}",
            f"{name},back,{many},{tall - 20},{width - 12},6,birch,sheet,one,any,",
            f"{name},stile,{2 * many},{tall},45,20,{wood_of},,,,",
            f"{name},frame rail,{2 * many},{width - 90},45,20,{wood_of},,,,",
        ]
        if chance.random() < 0.4:
            rows += [
                f"{name},drawer side,{4 * many},{deep - 30},140,18,birch,sheet,one,along,{edge}",
                f"{name},drawer end,{4 * many},{inside - 62},126,18,birch,sheet,one,along,{edge}",
                f"{name},drawer bottom,{2 * many},{deep - 40},{inside - 40},6,birch,sheet,one,any,",
            ]
    (folder / "shop.toml").write_text(KITCHEN_SHOP.format(stages=stages, wood=wood))
    (folder / "parts.csv").write_text("\n".join(rows[:121]) + "\n")
    orders = [f"K{place},{name},{kitchens}" for place, name in enumerate(products, 1)]
    (folder / "orders.csv").write_text("order,product,quantity\n" + "\n".join(orders) + "\n")
    for dealer, lines in KITCHEN_PRICES.items():
        (folder / "prices" / f"{dealer}.csv").write_text("\n".join(lines) + "\n")
    (folder / "suppliers.csv").write_text(
        "supplier,delivery,minimum_order\nboardworks,60,200\npanelhouse,85,0\n"
    )


def rack_job(folder, boards):
    """A rack of many different boards that nearly all of a batch's pieces are cut from: sheets of hundreds of layouts."""
    chance = random.Random(f"rack {boards}")
    folder = pathlib.Path(folder)
    widths = ["1 1/2", "2", "2 1/4", "3", "3 1/2", "4"]
    parts = [f"{chance.randint(2, 6)},{chance.randint(10, 44)},{chance.choice(widths)},3/4,ash," for _ in range(14)]
    write(folder, "", parts, {"yard": ["ash,4/4,1C,8,8',12,bf"]})
    (folder / "orders.csv").write_text(f"order,product,quantity\n1,P,{boards * 6 // 35}\n")
    rows = ["board,species,quarter,grade,width,length,value"]
    for number in range(boards):
        width, length, value = chance.randint(10, 20) / 2, chance.randint(60, 144), chance.randint(3, 9)
        rows.append(f"R{number},ash,4/4,1C,{width},{length},{value}")
    (folder / "rack.csv").write_text("\n".join(rows) + "\n")


def sheet_job(folder, path, stages, turned):
    """A published plate as a sheet job: pieces and demand (1 where none is given) of one sheet size, at no kerf."""
    folder = pathlib.Path(folder)
    (folder / "prices").mkdir(parents=True, exist_ok=True)
    length, width, pieces = plate(path)
    grain = "any" if turned else "along"
    rows = ["product,part,pieces,length,width,thickness,species,material,grain"]
    rows += [f"P,p{n},{many},{long},{wide},18,birch,sheet,{grain}" for n, (long, wide, many) in enumerate(pieces, 1)]
    (folder / "parts.csv").write_text("\n".join(rows) + "\n")
    (folder / "orders.csv").write_text("order,product,quantity\n1,P,1\n")
    (folder / "shop.toml").write_text(f'unit = "mm"\n[sheet_saw]\nkerf = 0\ntrim = 0\nstages = {stages}\n')
    (folder / "prices" / "yard.csv").write_text(
        f"species,quarter,grade,width,length,price,material\nbirch,18,one,{width},{length},1,sheet\n"
    )


def jobs(kind):
    """(name, writer, known best or None) of every job of a kind."""
    def plain(capacity, sizes):
        return lambda folder: one_dimensional(folder, capacity, sizes)

    word, _, size = kind.partition("-")
    if word == "uniform" and size == "120":
        for number in range(20):
            yield f"u120-{number:02}", plain(*uniform(120, number)), None
    elif word in ("uniform", "triplets"):
        number = {"250": 2, "500": 3, "1000": 4, "60": 5, "120": 6, "249": 7, "501": 8}[size]
        for name, capacity, best, sizes in falkenauer(DATA / "falkenauer" / f"binpack{number}.txt"):
            yield name, plain(capacity, sizes), best
    elif word == "perfect":
        for number in range(10):
            yield f"perfect{size}-{number}", plain(*perfect(int(size), number)), None
    elif word == "plates":
        for path in plates():
            yield path.stem, lambda folder, path=path: plate_job(folder, path), None
    elif word in ("sheets2", "sheets3", "turned2", "turned3"):
        for path in plates():
            stages, turned = int(word[-1]), word.startswith("turned")
            yield path.stem, lambda folder, path=path: sheet_job(folder, path, stages, turned), None
    elif word in ("kitchen", "kitchen3", "kitchens"):
        for number in range(5):
            kitchens, stages = int(size or 1), 3 if word == "kitchen3" else 2
            yield (
                f"{kind}-{number}",
                lambda folder, number=number: kitchen_job(folder, number, kitchens, stages),
                None,
            )
    elif word == "gg":
        for number in range(5):
            yield f"gg{size}-{number}", plain(*gilmore_gomory(int(size), number)), None
    elif word in ("hard28", "waescher", "schwerin", "scholl"):
        for name, capacity, sizes in open_set(word):
            yield name, plain(capacity, sizes), None
    elif word in ("piece", "graded"):
        wood = "none" if word == "piece" else "by-grade"
        for number in range(20 if int(size) < 25 else 10):
            yield (
                f"{word}{size}-{number:02}",
                lambda folder, number=number: piece_job(folder, int(size), number, wood),
                None,
            )
    elif word == "rack":
        yield kind, lambda folder: rack_job(folder, int(size)), None
    elif word == "shop":
        sizes, lines = size.split("x")
        for seed in range(3):
            yield (
                f"shop{size}-{seed}",
                lambda folder, seed=seed: shop_job(folder, int(sizes), int(lines), seed),
                None,
            )
    else:
        raise SystemExit(f"no such kind: {kind}")


def main():
    kind, out = sys.argv[1], pathlib.Path(sys.argv[2])
    for name, writer, _ in jobs(kind):
        writer(out / name)
        print(out / name)


if __name__ == "__main__":
    main()
