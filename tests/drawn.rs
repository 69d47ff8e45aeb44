//! Boards that nobody has seen: their draws, the buy on them, and how sure it is to be enough.

mod support;

use ripwright::check::check;
use ripwright::intake::read_job;
use ripwright::job::{DrawnBoard, Job, one_board, share_of};
use ripwright::measure::{Length, Money, Unit};
use ripwright::planning::{Request, plan, share_of_unseen_lots};
use ripwright::solve::{Options, Status, solve};
use ripwright::trade::grading::{CuttingsMade, grade_of, makes, surface_measure};
use ripwright::trade::{Defect, DefectKind, Grade};
use support::Folder;

const ORDERS: (&str, &str) = ("orders.csv", "order,product,quantity\nA,slat,30\n");
const SLAT: (&str, &str) =
    ("parts.csv", "product,part,pieces,length,width,thickness,species\nslat,slat,1,30,2,3/4,oak\n");
const BY_GRADE: (&str, &str) =
    ("shop.toml", "[milling]\nend_trim = \"0\"\nedge_trim = \"0\"\n[wood]\ndefects = \"by-grade\"\n");

fn job(prices: &str) -> Job {
    read_job(Folder::new(&[ORDERS, SLAT, BY_GRADE, ("prices/yard.csv", prices)]).path()).unwrap()
}

fn options() -> Options {
    Options { gap_percent: 0.0, time: Some(std::time::Duration::from_secs(4)), ..Options::default() }
}

/// The most slats that a drawn board gives, by trying every place for every strip: slats lie in strips of their
/// width (or sections of their length) that are clear wherever something is cut from them.
fn most_slats(board: &DrawnBoard) -> u64 {
    let ticks = |length: Length| length.base() / Length::inch_128ths(8).base();
    let (length, width, kerf) = (ticks(board.length), ticks(board.width), 2);
    let (long, wide) = (30 * 16, 2 * 16);
    let defects: Vec<[i64; 4]> =
        board.defects.iter().map(|d| [ticks(d.x0), ticks(d.x1), ticks(d.y0), ticks(d.y1)]).collect();
    // (main room, run room, main size, run size), and a defect's place along the axes.
    let layouts = [(width, length, wide, long, [2, 3, 0, 1]), (length, width, long, wide, [0, 1, 2, 3])];
    let most = layouts.map(|(main_room, run_room, main, run, axes)| {
        let defects: Vec<[i64; 4]> = defects.iter().map(|defect| axes.map(|axis| defect[axis])).collect();
        let in_strip = |at: i64| -> u64 {
            let met = defects.iter().filter(|d| d[0] < at + main && at < d[1]);
            let mut met: Vec<(i64, i64)> = met.map(|d| (d[2], d[3])).collect();
            met.sort_unstable();
            let (mut from, mut slats) = (0, 0);
            for (low, high) in met.into_iter().chain([(run_room, run_room)]) {
                slats += ((low - from + kerf).max(0) / (run + kerf)) as u64;
                from = from.max(high).max(low + kerf);
            }
            slats
        };
        let mut best = vec![0; (main_room + 1).max(0) as usize + 1];
        for at in (0..=main_room).rev() {
            let place = at as usize;
            best[place] = best[place + 1];
            if at + main <= main_room {
                let next = (at + main + kerf).min(main_room + 1) as usize;
                best[place] = best[place].max(in_strip(at) + best[next]);
            }
        }
        best[0]
    });
    most[0].max(most[1])
}

/// Boards come in turn, so the cheapest buy of one lot is the first so many that give every slat.
#[test]
fn the_buy_of_one_lot_is_what_arithmetic_says() {
    for prices in ["oak,4/4,1C,5..9,6'..10',4.00", "oak,4/4,2A,6..8,8',2.50", "oak,4/4,FAS,6,8',6.00"] {
        let job = job(&format!("species,quarter,grade,width,length,price\n{prices}\n"));
        let line = &job.lines.raw[0];
        let each: Vec<u64> = line.drawn.iter().map(most_slats).collect();
        let given = |boards: u64| -> u64 {
            let shares = each.iter().enumerate();
            shares.map(|(place, slats)| slats * share_of(boards, place, each.len())).sum()
        };
        let fewest = (1..200).find(|boards| given(*boards) >= 30).unwrap();
        let checked = plan(&job, &Request::new(options()), &|_| ()).unwrap();
        assert_eq!(checked.plan().buy[0].boards, fewest, "{prices}: {each:?}");
        assert_eq!(checked.plan().status, Status::Optimal, "{prices}");
        // What is bought is the first so many, each with its own size.
        let area = |boards: &mut dyn Iterator<Item = (Length, Length, u64)>| -> i128 {
            boards.map(|(x, y, n)| i128::from(x.base()) * i128::from(y.base()) * i128::from(n)).sum()
        };
        let boards = checked.plan().boards.iter();
        let bought = area(&mut boards.map(|board| (board.length, board.width, u64::from(board.copies))));
        let drawn = line.drawn.iter().enumerate();
        let first = area(
            &mut drawn.map(|(place, one)| (one.length, one.width, share_of(fewest, place, line.drawn.len()))),
        );
        assert_eq!(bought, first, "{prices}");
    }
}

/// Of two lots the cheapest pair of numbers is bought, by trying all pairs.
#[test]
fn the_buy_of_two_lots_is_the_cheapest_pair() {
    for (one, other) in [
        ("oak,4/4,FAS,6,8',3.10", "oak,4/4,2A,4..9,6'..10',2.00"),
        ("oak,4/4,1C,5..9,6'..9',2.70", "oak,4/4,1C,6,8',2.60"),
    ] {
        let job = job(&format!("species,quarter,grade,width,length,price\n{one}\n{other}\n"));
        let lot = |line: usize, boards: u64| -> (u64, f64) {
            let line = &job.lines.raw[line];
            let slats: Vec<u64> = line.drawn.iter().map(most_slats).collect();
            let shares = slats.iter().enumerate();
            let given = shares.map(|(place, slats)| slats * share_of(boards, place, line.drawn.len())).sum();
            let price = line.price_of(&job.suppliers.raw[0], boards).unwrap();
            (given, num_traits::ToPrimitive::to_f64(&price).unwrap())
        };
        let mut cheapest = f64::MAX;
        for first in 0..30 {
            let (given, price) = lot(0, first);
            let second = (0..60).find(|second| given + lot(1, *second).0 >= 30).unwrap();
            cheapest = cheapest.min(price + lot(1, second).1);
        }
        let checked = plan(&job, &Request::new(options()), &|_| ()).unwrap();
        let cost = checked.plan().cost.total.to_f64();
        // Each row is rounded to a cent.
        assert!((cost - cheapest).abs() < 0.011, "{one}, {other}: {cost}, {cheapest}");
        assert!(checked.plan().cost.lower_bound.to_f64() <= cheapest + 0.011);
    }
}

/// Whatever gives large pieces gives small ones in their place, so a larger piece never makes the buy cheaper. (A list
/// of patterns once left out those of pieces that are worth nothing, and a proof was wrong.)
#[test]
fn a_larger_piece_never_makes_the_buy_cheaper() {
    let cost = |length: u32, width: &str| {
        let parts = format!(
            "product,part,pieces,length,width,thickness,species\nslat,side,2,{length},{width},3/4,oak\n\
             slat,rail,4,17,2 1/2,3/4,oak\n"
        );
        let orders = ("orders.csv", "order,product,quantity\nA,slat,1\n");
        let wood = ("shop.toml", "[wood]\ndefects = \"by-grade\"\n");
        let prices =
            ("prices/yard.csv", "species,quarter,grade,width,length,price\noak,4/4,2A,6..8,7'..8',4\n");
        let folder = Folder::new(&[orders, ("parts.csv", &parts), wood, prices]);
        let job = read_job(folder.path()).unwrap();
        let checked = plan(&job, &Request::new(options()), &|_| ()).unwrap();
        assert_eq!(checked.plan().status, Status::Optimal, "{length} x {width}");
        checked.plan().cost.total
    };
    let widths = ["4 1/2", "5", "5 1/4", "5 3/4"];
    let costs: Vec<Vec<_>> =
        (40..=58).step_by(3).map(|length| widths.map(|width| cost(length, width)).to_vec()).collect();
    for (place, row) in costs.iter().enumerate() {
        assert!(row.is_sorted(), "{costs:?}");
        assert!(place == 0 || costs[place - 1].iter().zip(row).all(|(shorter, longer)| shorter <= longer));
    }
}

/// A part that asks for less may lie wherever a stricter one lies.
#[test]
fn a_part_that_may_hold_more_never_makes_the_buy_dearer() {
    let cost = |width: i64, clear: [&str; 2]| {
        let parts = format!(
            "product,part,pieces,length,width,thickness,species,clear\n\
             slat,side,3,40,{width},3/4,oak,{}\nslat,rail,6,17,2 1/2,3/4,oak,{}\n",
            clear[0], clear[1]
        );
        let orders = ("orders.csv", "order,product,quantity\nA,slat,2\n");
        let wood = ("shop.toml", "[wood]\ndefects = \"by-grade\"\n");
        let prices =
            ("prices/yard.csv", "species,quarter,grade,width,length,price\noak,4/4,2A,5..9,6'..9',4\n");
        let job = read_job(Folder::new(&[orders, ("parts.csv", &parts), wood, prices]).path()).unwrap();
        let checked = plan(&job, &Request::new(options()), &|_| ()).unwrap();
        assert_eq!(checked.plan().status, Status::Optimal, "{width} {clear:?}");
        checked.plan().cost.total
    };
    let mut saved = 0;
    for width in [3, 4, 5] {
        let costs = [["yes", "yes"], ["yes", "no"], ["no", "no"]].map(|clear| cost(width, clear));
        assert!(costs[0] >= costs[1] && costs[1] >= costs[2], "{width}: {costs:?}");
        assert_eq!(cost(width, ["face", "yes"]), costs[0], "no drawn defect is on one face only");
        saved += usize::from(costs[0] > costs[2]);
    }
    assert!(saved > 0, "sound knots are of use");
}

/// A board with a knot is for the part that may hold it, in the exact search and where many sizes are cut at once.
#[test]
fn a_knot_is_cut_into_the_part_that_may_hold_it() {
    let board = |clear: &str, kind: &str, more: usize| {
        let mut parts = format!(
            "product,part,pieces,length,width,thickness,species,clear\nbox,back,1,40,5,3/4,oak,{clear}\n"
        );
        for size in 0..more {
            parts.push_str(&format!("box,stick{size},1,{},1,3/4,oak,yes\n", 10 + size));
        }
        let rack = format!(
            "board,species,quarter,grade,width,length,value,defects\n\
             knotty,oak,4/4,1C,6,45,1,20..22@2..4 {kind}\nclean,oak,4/4,1C,6,45,9,\n\
             sticks,oak,4/4,1C,4,96,0,\n"
        );
        let folder = Folder::new(&[
            ("orders.csv", "order,product,quantity\nA,box,1\n"),
            ("parts.csv", &parts),
            ("rack.csv", &rack),
            ("prices/yard.csv", "species,quarter,grade,width,length,price\noak,8/4,1C,6,8',4\n"),
        ]);
        let job = read_job(folder.path()).unwrap();
        let checked = plan(&job, &Request::new(options()), &|_| ()).unwrap();
        let holds =
            |board: &&ripwright::document::BoardEntry| board.pieces.iter().any(|piece| piece.part == "back");
        let mut document = checked.document().clone();
        let source = document.boards.iter().find(holds).map(|board| board.source.clone());
        // The same plan for a part that is to be clear is refused.
        if source.as_deref() == Some("rack:knotty") {
            folder.write("parts.csv", &parts.replace(&format!("oak,{clear}"), "oak,yes"));
            let strict = read_job(folder.path()).unwrap();
            document.cost.lower_bound = document.cost.total.clone();
            let faults: Vec<String> = check(&document, &strict).iter().map(ToString::to_string).collect();
            assert!(faults.iter().any(|fault| fault.contains("over a defect")), "{faults:?}");
        }
        source.unwrap_or_default()
    };
    for (clear, kind, found) in [
        ("no", "sound", "rack:knotty"),
        ("no", "sound back", "rack:knotty"),
        ("face", "sound back", "rack:knotty"),
        ("face", "sound", "rack:clean"),
        ("yes", "sound back", "rack:clean"),
        ("no", "", "rack:clean"),
    ] {
        for more in [0, 11] {
            assert_eq!(board(clear, kind, more), found, "{clear}, {kind}, {more}");
        }
    }
}

#[test]
fn a_plan_of_drawn_boards_is_checked_like_any_other() {
    let job = job(
        "species,quarter,grade,width,length,price\noak,4/4,1C,5..9,6'..10',4.00\noak,4/4,FAS,6,8',6.00\n",
    );
    let checked = plan(&job, &Request::new(options()), &|_| ()).unwrap();
    let sound = checked.document().clone();
    assert!(sound.boards.iter().all(|board| board.drawn));
    let faults = |change: &dyn Fn(&mut ripwright::document::Document)| {
        let mut document = sound.clone();
        change(&mut document);
        check(&document, &job).iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
    };
    assert_eq!(faults(&|_| ()), "");
    let board = sound.boards.iter().position(|board| !board.pieces.is_empty()).unwrap();
    let over = faults(&|document| {
        let piece = document.boards[board].pieces[0].clone();
        let defect = ripwright::document::DefectEntry {
            x0: piece.x + 1.0,
            x1: piece.x + 2.0,
            y0: piece.y,
            y1: piece.y + 1.0,
            kind: String::new(),
        };
        document.boards[board].defects.push(defect);
    });
    assert!(over.contains("over a defect"), "{over}");
    let clear = faults(&|document| document.boards[board].drawn = false);
    assert!(clear.contains("is not drawn"), "{clear}");
    let wide = faults(&|document| document.boards[board].width = 30.0);
    assert!(wide.contains("not of the size that its source sells"), "{wide}");
    let fewer = faults(&|document| document.buy[0].boards += 1);
    assert!(fewer.contains("are cut"), "{fewer}");
}

/// The share of fresh lots that is promised is the share of lots drawn and counted here, by arithmetic that knows no
/// pattern: slats are of one size, so cutting board by board loses nothing.
#[test]
fn a_buy_is_enough_as_often_as_promised() {
    let job = job("species,quarter,grade,width,length,price\noak,4/4,1C,5..9,6'..10',4.00\n");
    let request = Request::new(options()).with_confidence(90.0);
    let checked = plan(&job, &request, &|_| ()).unwrap();
    let confidence = checked.plan().confidence.clone().unwrap();
    let boards = checked.plan().buy[0].boards;
    assert!(confidence.enough >= 90.0);
    let mut random = fastrand::Rng::with_seed(987_654);
    let pool: Vec<u64> =
        (0..2_000).map(|_| most_slats(&one_board(&job.lines.raw[0], Unit::Inch, &mut random))).collect();
    let mut share = |boards: u64| {
        let lots =
            (0..2_000).filter(|_| (0..boards).map(|_| pool[random.usize(..pool.len())]).sum::<u64>() >= 30);
        lots.count() as f64 / 20.0
    };
    let (promised, counted) = (confidence.enough, share(boards));
    assert!((promised - counted).abs() < 5.0, "{boards} boards: promised {promised} %, counted {counted} %");
    // So is what unseen lots are judged by, and more boards never make fewer lots enough.
    let solution = solve(&job, &options(), &|_, _| ()).unwrap();
    let judged =
        |boards: u64| share_of_unseen_lots(&solution, &[(0.into(), boards)], 500, &options()).unwrap();
    assert!((judged(boards) - counted).abs() < 6.0, "judged {} %, counted {counted} %", judged(boards));
    let shares: Vec<f64> = (0..boards + 4).map(judged).collect();
    assert!(shares[0] == 0.0 && shares.is_sorted(), "{shares:?}");
    let fewer = share(boards - 1);
    assert!(fewer < 90.0 || counted < 95.0, "{boards} boards: {counted} %, one fewer {fewer} %");
}

/// Every set of clear cuttings on a small board of whole inches and feet, by trying all.
fn makes_by_trying(grade: Grade, feet: i64, inches: i64, defects: &[Defect]) -> bool {
    // (least cuttings, units a foot, cuttings, extra cutting): the published table, written down once more.
    let measure = surface_measure(Length::inches(12 * feet), Length::inches(inches));
    type Sizes = &'static [(i64, i64)];
    type Extra = Option<(i64, i64, i64)>;
    let (least, sizes, units, most, extra): ((i64, i64), Sizes, i64, i64, Extra) = match grade {
        Grade::Fas => ((6, 8), &[(4, 5), (3, 7)], 10, (measure / 4).min(4), Some((6, 15, 11))),
        Grade::C1 => ((3, 4), &[(4, 2), (3, 3)], 8, ((measure + 1) / 3).min(5), Some((3, 10, 9))),
        Grade::C2a => ((3, 4), &[(3, 2)], 6, (measure / 2).min(7), Some((2, 7, 8))),
        _ => unreachable!(),
    };
    if inches < least.0 || feet < least.1 {
        return false;
    }
    let mut cuttings = Vec::new();
    for x0 in 0..feet {
        for x1 in x0 + 1..=feet {
            for y0 in 0..inches {
                for y1 in y0 + 1..=inches {
                    let one = Defect {
                        x0: Length::inches(12 * x0),
                        x1: Length::inches(12 * x1),
                        y0: Length::inches(y0),
                        y1: Length::inches(y1),
                        kind: DefectKind::Unsound,
                    };
                    let large = sizes.iter().any(|(width, length)| y1 - y0 >= *width && x1 - x0 >= *length);
                    if large && defects.iter().all(|defect| !meet(defect, &one)) {
                        cuttings.push((one, (x1 - x0) * (y1 - y0)));
                    }
                }
            }
        }
    }
    fn best(cuttings: &[(Defect, i64)], most: i64, taken: &mut Vec<Defect>) -> i64 {
        if most == 0 {
            return 0;
        }
        let mut sum = 0;
        for (place, (one, units)) in cuttings.iter().enumerate() {
            if taken.iter().all(|other| !meet(other, one)) {
                taken.push(*one);
                sum = sum.max(units + best(&cuttings[place + 1..], most - 1, taken));
                taken.pop();
            }
        }
        sum
    }
    let enough = |most: i64, units: i64| best(&cuttings, most, &mut Vec::new()) >= measure * units;
    enough(most, units)
        || extra.is_some_and(|(from, to, units)| (from..=to).contains(&measure) && enough(most + 1, units))
}

fn meet(one: &Defect, other: &Defect) -> bool {
    one.x0 < other.x1 && other.x0 < one.x1 && one.y0 < other.y1 && other.y0 < one.y1
}

/// Defects of whole inches and feet, so that every cutting that matters is one as well.
#[test]
fn the_grader_agrees_with_trying_every_set_of_cuttings() {
    let mut random = fastrand::Rng::with_seed(11);
    let (mut made, mut unknown) = (0, 0);
    for _ in 0..1_000 {
        let (feet, inches) = (random.i64(4..=8), random.i64(3..=6));
        let defects: Vec<Defect> = (0..random.usize(1..=3))
            .map(|_| {
                let (x, y) = (random.i64(0..feet), random.i64(0..inches));
                Defect {
                    x0: Length::inches(12 * x),
                    x1: Length::inches(12 * (x + 1)),
                    y0: Length::inches(y),
                    y1: Length::inches(y + 1),
                    kind: DefectKind::Unsound,
                }
            })
            .collect();
        for grade in [Grade::Fas, Grade::C1, Grade::C2a] {
            let (length, width) = (Length::inches(12 * feet), Length::inches(inches));
            let truth = makes_by_trying(grade, feet, inches, &defects);
            match makes(grade, length, width, &defects) {
                CuttingsMade::With(_) => assert!(truth, "{grade} {feet} {inches} {defects:?}"),
                CuttingsMade::No => assert!(!truth, "{grade} {feet} {inches} {defects:?}"),
                CuttingsMade::Unknown => unknown += 1,
            }
            made += usize::from(truth);
        }
    }
    assert!(made > 200 && unknown == 0, "{made} made, {unknown} unknown");
}

#[test]
fn a_board_is_never_graded_better_for_one_defect_more() {
    let mut random = fastrand::Rng::with_seed(5);
    let job = job("species,quarter,grade,width,length,price\noak,4/4,2A,4..9,6'..12',4.00\n");
    for _ in 0..300 {
        let mut board = one_board(&job.lines.raw[0], Unit::Inch, &mut random);
        let before = grade_of(board.length, board.width, &board.defects);
        let x0 = Length::from_base(random.i64(0..board.length.base() - 1));
        let y0 = Length::from_base(random.i64(0..board.width.base() - 1));
        let end = |from: Length, most: Length| (from + Length::inches(2)).min(most);
        board.defects.push(Defect {
            x0,
            x1: end(x0, board.length),
            y0,
            y1: end(y0, board.width),
            kind: DefectKind::Unsound,
        });
        let after = grade_of(board.length, board.width, &board.defects);
        if before.exact && after.exact {
            let rank = |grade: Option<Grade>| grade.map_or(9, |grade| grade as usize);
            assert!(rank(after.grade) >= rank(before.grade), "{before:?} {after:?}");
        }
    }
}

/// A search that is out of time before it began had no plan where a dealer has many lines: it left out all lots that its
/// linear program had not come to.
#[test]
fn a_plan_of_drawn_boards_is_found_without_any_time() {
    let mut prices = "species,quarter,grade,width,length,price\n".to_string();
    for quarter in ["4/4", "5/4", "6/4", "8/4"] {
        for (grade, price) in [("FAS", 9), ("1C", 6), ("2A", 4)] {
            for sizes in ["4..6,6'..8'", "6..9,8'..10'", "8..10,10'..12'"] {
                prices += &format!("walnut,{quarter},{grade},{sizes},{price}\n");
            }
        }
    }
    let folder = Folder::new(&[
        ("orders.csv", "order,product,quantity\nA,box,4\n"),
        (
            "parts.csv",
            "product,part,pieces,length,width,thickness,species\n\
             box,side,4,20,4,3/4,walnut\nbox,end,2,9,4,3/4,walnut\n",
        ),
        ("prices/yard.csv", &prices),
        ("shop.toml", "[wood]\ndefects = \"by-grade\"\n"),
    ]);
    // Many boxes are cut in rounds of all boards of a lot: one search for each board would take minutes.
    for boxes in [4, 5_000] {
        folder.write("orders.csv", &format!("order,product,quantity\nA,box,{boxes}\n"));
        let job = read_job(folder.path()).unwrap();
        let options = Options { time: Some(std::time::Duration::ZERO), threads: 1, ..Options::default() };
        let checked = plan(&job, &Request::new(options), &|_| ()).unwrap();
        assert!(checked.plan().cost.total > Money::ZERO);
    }
}
