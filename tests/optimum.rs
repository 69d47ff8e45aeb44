//! The optimum of tiny jobs: by brute force over all two-stage guillotine patterns, and by a compact
//! integer program given to a general-purpose solver.

mod support;

use good_lp::{Expression, ProblemVariables, ResolutionError, Solution, SolverModel, Variable, variable};
use proptest::prelude::*;
use ripwright::check::check;
use ripwright::intake::read_job;
use ripwright::measure::Money;
use ripwright::plan::{Plan, build_plan};
use ripwright::solve::{Options, Status, solve};
use support::Folder;
use support::brute::{Hole, Offer, Terms, Tiny};

/// A random tiny job in 1/16 in, with its files.
#[derive(Debug, Clone)]
struct TinyJob {
    parts: Vec<PartRow>,
    boards: Vec<BoardRow>,
    rack: Option<RackRow>,
    terms: [Terms; 2],
    kerf: i64,
}

#[derive(Debug, Clone)]
struct RackRow {
    length: i64,
    width: i64,
    cents: i64,
    /// Nothing is trimmed off.
    trimmed: bool,
    /// Along and across.
    defects: Vec<Hole>,
}

#[derive(Debug, Clone)]
struct PartRow {
    pieces: usize,
    length: i64,
    width: i64,
    /// 0: 4/4 and thicker; 1: 8/4 only.
    thick: bool,
    fine: bool,
}

#[derive(Debug, Clone)]
struct BoardRow {
    length: i64,
    width: i64,
    thick: bool,
    fine: bool,
    /// Hundredths a board.
    cents: i64,
    available: Option<usize>,
    dealer: usize,
}

fn part() -> impl Strategy<Value = PartRow> {
    (1usize..=3, 60i64..400, 16i64..70, prop::bool::weighted(0.2), prop::bool::weighted(0.3))
        .prop_map(|(pieces, length, width, thick, fine)| PartRow { pieces, length, width, thick, fine })
}

fn board() -> impl Strategy<Value = BoardRow> {
    (
        300i64..900,
        50i64..140,
        prop::bool::weighted(0.4),
        any::<bool>(),
        500i64..4000,
        prop::option::weighted(0.3, 1usize..3),
        0usize..2,
    )
        .prop_map(|(length, width, thick, fine, cents, available, dealer)| BoardRow {
            length,
            width,
            thick,
            fine,
            cents,
            available,
            dealer,
        })
}

fn terms() -> impl Strategy<Value = Terms> {
    (
        prop_oneof![Just(0i64), 100i64..2000],
        prop_oneof![3 => Just(0i64), 1 => 1000i64..2500],
        prop::option::weighted(0.3, (200i64..800, 1i64..20)),
    )
        .prop_map(|(delivery, minimum, step)| Terms { delivery, minimum, step })
}

fn tiny_job() -> impl Strategy<Value = TinyJob> {
    (
        prop::collection::vec(part(), 1..=3),
        prop::collection::vec(board(), 1..=3),
        prop::option::weighted(0.4, rack_board(200..500)),
        [terms(), terms()],
        prop_oneof![Just(0i64), Just(2i64)],
    )
        .prop_filter("at most six pieces", |job| job.0.iter().map(|part| part.pieces).sum::<usize>() <= 6)
        .prop_map(|(parts, boards, rack, terms, kerf)| TinyJob { parts, boards, rack, terms, kerf })
}

fn rack_board(lengths: std::ops::Range<i64>) -> impl Strategy<Value = RackRow> {
    let hole = (10i64..400, 4i64..40, 5i64..90, 3i64..20)
        .prop_map(|(x, long, y, wide)| Hole { along: (x, x + long), across: (y, y + wide) });
    (lengths, 60i64..140, 0i64..500, prop::bool::weighted(0.3), prop::collection::vec(hole, 0..=2)).prop_map(
        |(length, width, cents, trimmed, mut defects)| {
            defects.retain(|hole| hole.along.1 <= length && hole.across.1 <= width);
            RackRow { length, width, cents, trimmed, defects }
        },
    )
}

/// 1/16 in as the files write it.
fn sixteenths(ticks: i64) -> String {
    format!("{}/16", ticks)
}

fn hundredths(value: i64) -> String {
    format!("{}.{:02}", value / 100, value % 100)
}

impl TinyJob {
    fn files(&self) -> Vec<(String, String)> {
        let mut parts = "product,part,pieces,length,width,thickness,species,grade\n".to_string();
        for (number, part) in self.parts.iter().enumerate() {
            let (thickness, grade) =
                (if part.thick { "1 1/2" } else { "3/4" }, if part.fine { "FAS" } else { "2A" });
            parts.push_str(&format!(
                "thing,p{number},{},{},{},{thickness},ash,{grade}\n",
                part.pieces,
                sixteenths(part.length),
                sixteenths(part.width)
            ));
        }
        let kerf = sixteenths(self.kerf);
        let mut files = vec![
            (
                "shop.toml".to_string(),
                format!(
                    "[saw]\nrip_kerf = \"{kerf}\"\ncrosscut_kerf = \"{kerf}\"\n\
                     [milling]\nend_trim = \"1/2\"\nedge_trim = \"1/4\"\n"
                ),
            ),
            ("orders.csv".to_string(), "order,product,quantity\n1,thing,1\n".to_string()),
            ("parts.csv".to_string(), parts),
        ];
        let mut suppliers = "supplier,delivery,minimum_order\n".to_string();
        let mut breaks = "supplier,from_bf,percent_off\n".to_string();
        for dealer in 0..2 {
            let mut sheet = "species,quarter,grade,width,length,price,per,available\n".to_string();
            for row in self.boards.iter().filter(|row| row.dealer == dealer) {
                sheet.push_str(&format!(
                    "ash,{},{},{},{},{},piece,{}\n",
                    if row.thick { "8/4" } else { "4/4" },
                    if row.fine { "FAS" } else { "2A" },
                    sixteenths(row.width),
                    sixteenths(row.length),
                    hundredths(row.cents),
                    row.available.map(|count| count.to_string()).unwrap_or_default()
                ));
            }
            files.push((format!("prices/d{dealer}.csv"), sheet));
            let terms = self.terms[dealer];
            suppliers.push_str(&format!(
                "d{dealer},{},{}\n",
                hundredths(terms.delivery),
                hundredths(terms.minimum)
            ));
            if let Some((from, percent)) = terms.step {
                breaks.push_str(&format!("d{dealer},{},{percent}\n", hundredths(from)));
            }
        }
        files.push(("suppliers.csv".to_string(), suppliers));
        files.push(("breaks.csv".to_string(), breaks));
        if let Some(board) = &self.rack {
            let boxes = board.defects.iter().map(|Hole { along, across }| {
                let [x0, x1, y0, y1] = [along.0, along.1, across.0, across.1].map(sixteenths);
                format!("{x0}..{x1}@{y0}..{y1}")
            });
            let boxes: Vec<String> = boxes.collect();
            let (width, length) = (sixteenths(board.width), sixteenths(board.length));
            files.push((
                "rack.csv".to_string(),
                format!(
                    "board,species,quarter,grade,width,length,value,defects,trimmed\n\
                     R,ash,4/4,2A,{width},{length},{},{},{}\n",
                    hundredths(board.cents),
                    boxes.join(";"),
                    if board.trimmed { "yes" } else { "" }
                ),
            ));
        }
        files
    }

    fn brute(&self) -> Tiny {
        // Half an inch off each end, a quarter off each edge.
        let usable = |length: i64, width: i64| (length - 16, width - 8);
        let mut offers: Vec<Offer> = self
            .boards
            .iter()
            .map(|row| Offer {
                usable: usable(row.length, row.width),
                cents: row.cents,
                available: row.available,
                dealer: Some(row.dealer),
                // 1/16 in x 1/16 in x class / (256 x 144); a break is met on the exact tally, so the
                // comparison below is scaled instead of rounded.
                feet: row.length * row.width * if row.thick { 2 } else { 1 },
                defects: Vec::new(),
            })
            .collect();
        let mut kinds: Vec<(bool, bool)> = self.boards.iter().map(|row| (row.thick, row.fine)).collect();
        if let Some(RackRow { length, width, cents, trimmed, defects }) = &self.rack {
            let (end, edge) = if *trimmed { (0, 0) } else { (8, 4) };
            let usable = (length - 2 * end, width - 2 * edge);
            // What lies in the trim is cut off.
            let within =
                |(from, to): (i64, i64), trim: i64, room: i64| ((from - trim).max(0), (to - trim).min(room));
            let defects = defects.iter().map(|hole| Hole {
                along: within(hole.along, end, usable.0),
                across: within(hole.across, edge, usable.1),
            });
            let is_left = |hole: &Hole| hole.along.0 < hole.along.1 && hole.across.0 < hole.across.1;
            let defects = defects.filter(is_left).collect();
            offers.push(Offer { usable, cents: *cents, available: Some(1), dealer: None, feet: 0, defects });
            kinds.push((false, false));
        }
        let mut pieces = Vec::new();
        let mut allowed = Vec::new();
        for part in &self.parts {
            for _ in 0..part.pieces {
                pieces.push((part.length, part.width));
                let serves = |(thick, fine): &(bool, bool)| (*thick || !part.thick) && (*fine || !part.fine);
                allowed.push(kinds.iter().map(serves).collect());
            }
        }
        // Hundredths of a board foot to the unit of `feet`; a break is reached by no less than it says.
        let scaled = |terms: &Terms| Terms {
            step: terms.step.map(|(from, percent)| ((from * 256 * 144 + 99) / 100, percent)),
            ..*terms
        };
        Tiny {
            pieces,
            allowed,
            turns: Vec::new(),
            third_stage: false,
            exact: false,
            largest_strip: None,
            offers,
            terms: self.terms.iter().map(scaled).collect(),
            kerfs: (self.kerf, self.kerf),
            extra: 5,
        }
    }
}

fn planned(folder: &Folder, gap_percent: f64) -> Result<Plan, String> {
    let job = read_job(folder.path()).map_err(|error| error.to_string())?;
    let options = Options { gap_percent, time: None, threads: 1, ..Options::default() };
    let solution = solve(&job, &options, &|_, _| ()).map_err(|error| error.to_string())?;
    let plan = build_plan(&solution).map_err(|error| error.to_string())?;
    let faults = check(&plan.document(&job), &job);
    assert!(faults.is_empty(), "the checker refuses the plan: {faults:?}");
    Ok(plan)
}

/// The same cost as by enumeration, and a proof of it.
fn costs_what_brute_force_finds(tiny: &TinyJob) -> Result<(), TestCaseError> {
    let files = tiny.files();
    let names: Vec<(&str, &str)> = files.iter().map(|(n, c)| (n.as_str(), c.as_str())).collect();
    let folder = Folder::new(&names);
    let truth = tiny.brute().least_cost();
    match (planned(&folder, 0.0), truth) {
        (Ok(plan), Some(cents)) => {
            prop_assert_eq!(plan.cost.total, Money::cents(cents));
            prop_assert_eq!(plan.status, Status::Optimal);
            prop_assert!(plan.cost.lower_bound <= Money::cents(cents));
        }
        (Err(_), None) => {}
        (Ok(plan), None) => prop_assert!(false, "planned for {} what cannot be cut", plan.cost.total),
        (Err(error), Some(cents)) => prop_assert!(false, "{cents} cents are enough, yet: {error}"),
    }
    Ok(())
}

/// A rack board with defects that is wanted: long enough for many pieces, and nearly free.
fn rack_job() -> impl Strategy<Value = TinyJob> {
    let board = rack_board(300..900).prop_filter("defects", |board| !board.defects.is_empty());
    (tiny_job(), board).prop_map(|(job, board)| TinyJob { rack: Some(board), ..job })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    /// Truth by enumeration.
    #[test]
    fn a_tiny_job_costs_what_brute_force_finds(tiny in tiny_job()) {
        costs_what_brute_force_finds(&tiny)?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, ..ProptestConfig::default() })]

    /// A board with defects is bounded and cut as it is, and not as a clean one.
    #[test]
    fn a_rack_board_with_defects_is_cut_as_brute_force_cuts_it(tiny in rack_job()) {
        costs_what_brute_force_finds(&tiny)?;
    }
}

/// One-dimensional jobs as the compact assignment program: board `j` is bought or not, piece `i` goes
/// to one board (Kantorovich, Management Science 6(4), 1960), solved by microlp through `good_lp`.
#[test]
fn a_one_dimensional_job_costs_what_the_compact_program_finds() {
    let mut random = fastrand::Rng::with_seed(11);
    for _ in 0..12 {
        let capacity = 480;
        let lengths: Vec<i64> = (0..random.usize(4..9)).map(|_| random.i64(90..300)).collect();
        let mut problem = ProblemVariables::new();
        let boards = lengths.len();
        let bought: Vec<_> = (0..boards).map(|_| problem.add(variable().binary())).collect();
        let goes: Vec<Vec<_>> =
            lengths.iter().map(|_| (0..boards).map(|_| problem.add(variable().binary())).collect()).collect();
        let cost: Expression = bought.iter().map(|board| 7.25 * *board).sum();
        let mut model = problem.minimise(cost).using(good_lp::microlp);
        for piece in &goes {
            let times: Expression = piece.iter().sum();
            model.add_constraint(times.eq(1.0));
        }
        for (board, bought) in bought.iter().enumerate() {
            // A kerf of 2 after every piece, one of which may fall off the end.
            let used: Expression =
                goes.iter().zip(&lengths).map(|(piece, length)| (length + 2) as f64 * piece[board]).sum();
            model.add_constraint(used.leq((capacity + 2) as f64 * *bought));
        }
        let solution = model.solve().unwrap();
        let boards: f64 = bought.iter().map(|board| solution.value(*board)).sum();
        let due = Money::cents(725 * boards.round() as i64);

        let mut parts = "product,part,pieces,length,width,thickness,species\n".to_string();
        for (number, length) in lengths.iter().enumerate() {
            parts.push_str(&format!("bar,p{number},1,{length},100,15,ash\n"));
        }
        let folder = Folder::new(&[
            (
                "shop.toml",
                "unit = \"mm\"\n[saw]\nrip_kerf = 2\ncrosscut_kerf = 2\n[milling]\nend_trim = 0\nedge_trim = 0\n",
            ),
            ("orders.csv", "order,product,quantity\n1,bar,1\n"),
            ("parts.csv", &parts),
            (
                "prices/yard.csv",
                "species,quarter,grade,width,length,price,per\nash,27mm,1C,100,480,7.25,piece\n",
            ),
        ]);
        let plan = planned(&folder, 0.0).unwrap();
        assert_eq!(plan.cost.total, due, "{lengths:?}");
        assert_eq!(plan.status, Status::Optimal);
    }
}

/// A sort of piece of a two-dimensional job, in millimetres.
#[derive(Debug, Clone, Copy)]
struct Sort {
    length: i64,
    width: i64,
    /// 40 mm, which 8/4 alone gives; else 18 mm, of which 8/4 gives two where it is resawn.
    thick: bool,
    wanted: i64,
}

/// A board on offer.
#[derive(Debug, Clone, Copy)]
struct Offered {
    length: i64,
    width: i64,
    thick: bool,
    cents: i64,
    available: usize,
}

/// Two-dimensional jobs, both layouts, boards of several sizes and classes, every other job resawn: the
/// compact program in which a piece opens a strip of a board or lies in a strip that a wider one opened
/// (after Lodi, Martello and Vigo, Journal of Combinatorial Optimization 8 (2004) 363-379), solved by
/// microlp through `good_lp`.
#[test]
fn a_two_dimensional_job_costs_what_the_compact_program_finds() {
    let mut random = fastrand::Rng::with_seed(5);
    for number in 0..14 {
        let resawn = number % 2 == 1;
        let kerf = random.i64(0..5);
        let mut sorts: Vec<Sort> = Vec::new();
        let many = if resawn { random.i64(4..7) } else { random.i64(5..9) };
        while sorts.iter().map(|sort| sort.wanted).sum::<i64>() < many {
            let most = if resawn { 4 } else { 2 };
            sorts.push(Sort {
                length: random.i64(200..700),
                width: random.i64(60..150),
                thick: random.u8(0..4) == 0,
                wanted: random.i64(1..most),
            });
        }
        let boards = [false, true].map(|thick| Offered {
            length: random.i64(800..1300),
            width: random.i64(160..280),
            thick,
            cents: random.i64(900..1500) + 700 * i64::from(thick),
            available: 3,
        });
        let truth = compact_cost(&sorts, &boards, kerf, resawn);

        let mut parts = "product,part,pieces,length,width,thickness,species\n".to_string();
        for (number, sort) in sorts.iter().enumerate() {
            let Sort { length, width, thick, wanted } = sort;
            let thickness = if *thick { 40 } else { 18 };
            parts.push_str(&format!("box,p{number},{wanted},{length},{width},{thickness},ash\n"));
        }
        let mut prices = "species,quarter,grade,width,length,price,per,available\n".to_string();
        for Offered { length, width, thick, cents, available } in &boards {
            let quarter = if *thick { "8/4" } else { "4/4" };
            let price = hundredths(*cents);
            prices.push_str(&format!("ash,{quarter},1C,{width},{length},{price},piece,{available}\n"));
        }
        let blanks = if resawn { 2 } else { 1 };
        let shop = format!(
            "unit = \"mm\"\n[saw]\nrip_kerf = {kerf}\ncrosscut_kerf = {kerf}\n\
             [milling]\nend_trim = 0\nedge_trim = 0\n[resaw]\nblanks = {blanks}\n"
        );
        let folder = Folder::new(&[
            ("shop.toml", &shop),
            ("orders.csv", "order,product,quantity\n1,box,1\n"),
            ("parts.csv", &parts),
            ("prices/yard.csv", &prices),
        ]);
        match (planned(&folder, 0.0), truth) {
            (Ok(plan), Some(cents)) => {
                assert_eq!(plan.cost.total, Money::cents(cents), "{sorts:?} {boards:?} {kerf} {resawn}");
                assert_eq!(plan.status, Status::Optimal);
            }
            (Err(_), None) => {}
            (plan, truth) => panic!("{plan:?} against {truth:?}: {sorts:?} {boards:?} {kerf}"),
        }
    }
}

/// The least cost in hundredths by the compact program, or `None` where nothing meets the demand.
fn compact_cost(sorts: &[Sort], boards: &[Offered], kerf: i64, resawn: bool) -> Option<i64> {
    let mut problem = ProblemVariables::new();
    let mut cost = Expression::from(0.0);
    let mut given: Vec<Expression> = sorts.iter().map(|_| Expression::from(0.0)).collect();
    let mut rows = Vec::new();
    // Each piece that may be cut, by its sort.
    let pieces: Vec<usize> =
        (0..sorts.len()).flat_map(|sort| std::iter::repeat_n(sort, sorts[sort].wanted as usize)).collect();
    for offered in boards {
        let mut bought = Expression::from(0.0);
        for along_is_run in [true, false] {
            let axes = |length: i64, width: i64| if along_is_run { (width, length) } else { (length, width) };
            let (main_room, run_room) = axes(offered.length + kerf, offered.width + kerf);
            // Blanks, main and run of each piece that fits, by falling main.
            let mut fitting: Vec<(usize, f64, i64, i64)> = pieces
                .iter()
                .filter(|sort| offered.thick || !sorts[**sort].thick)
                .map(|sort| {
                    let Sort { length, width, thick, wanted } = sorts[*sort];
                    let (main, run) = axes(length + kerf, width + kerf);
                    let halved = resawn && offered.thick && !thick && wanted > 1;
                    (*sort, if halved { 2.0 } else { 1.0 }, main, run)
                })
                .filter(|(_, _, main, run)| *main <= main_room && *run <= run_room)
                .collect();
            fitting.sort_by_key(|(sort, _, main, _)| (std::cmp::Reverse(*main), *sort));
            let mut before: Option<Variable> = None;
            for _ in 0..offered.available {
                let board = problem.add(variable().binary());
                // Boards alike are bought in order.
                rows.extend(before.map(|before| (board - before).leq(0.0)));
                before = Some(board);
                cost += offered.cents as f64 * board;
                bought += board;
                let mut across = -(main_room as f64) * board;
                for (place, (opener, blanks, main, run)) in fitting.iter().enumerate() {
                    let opens = problem.add(variable().binary());
                    given[*opener] += *blanks * opens;
                    across += *main as f64 * opens;
                    let mut along = (run - run_room) as f64 * opens;
                    for (inside, blanks, _, run) in &fitting[place + 1..] {
                        let lies = problem.add(variable().binary());
                        given[*inside] += *blanks * lies;
                        along += *run as f64 * lies;
                        rows.push((lies - opens).leq(0.0));
                    }
                    rows.push(along.leq(0.0));
                }
                rows.push(across.leq(0.0));
            }
        }
        rows.push(bought.leq(offered.available as f64));
    }
    rows.extend(given.into_iter().zip(sorts).map(|(given, sort)| given.geq(sort.wanted as f64)));
    let mut model = problem.minimise(cost.clone()).using(good_lp::microlp);
    for row in rows {
        model.add_constraint(row);
    }
    match model.solve() {
        Ok(solution) => Some(solution.eval(cost).round() as i64),
        Err(ResolutionError::Infeasible) => None,
        Err(other) => panic!("the program has no answer: {other}"),
    }
}
