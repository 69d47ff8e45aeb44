//! Pricing and planning against open data sets with known answers.
//!
//! The sets are the ESICUP collection's (CC0), read from `../shared/data`; where the folder is missing
//! a test says that it is skipped. See `benches/README.md` for where the collection is published.

mod support;

use ripwright::job::read_job;
use ripwright::measure::Length;
use ripwright::pattern::{Cutting, Family, Layout, Piece, Rect, TwoStage};
use ripwright::plan::{build_plan, check::check, document::Document};
use ripwright::solve::{Options, solve};
use support::{Folder, shared_data};

/// Beasley, Journal of the Operational Research Society 36 (1985) 297-306: one board, unlimited copies,
/// fixed orientation. Unconstrained optimum in any number of stages: Cintra, Miyazawa, Wakabayashi and
/// Xavier 2008 (from memory). Two-stage values: the data folder's README (an independent dynamic
/// program), strips along the first side and along the second.
const GCUT: [(i64, i64, i64); 13] = [
    (56460, 56460, 53808),
    (60536, 60076, 60071),
    (61036, 60133, 60078),
    (61698, 61698, 61252),
    (246_000, 246_000, 246_000),
    (238_998, 235_058, 238_998),
    (242_567, 242_567, 239_405),
    (246_633, 245_758, 244_130),
    (971_100, 971_100, 971_100),
    (982_025, 982_025, 955_058),
    (980_096, 974_638, 980_096),
    (979_986, 977_768, 978_776),
    (8_997_780, 8_906_216, 8_997_780),
];

#[test]
fn one_board_values_of_the_gcut_set_are_exact() {
    let Some(folder) = shared_data("gcut") else { return };
    for (number, (any_stage, first, second)) in GCUT.iter().enumerate() {
        let text = std::fs::read_to_string(folder.join(format!("gcut{}.txt", number + 1))).unwrap();
        let mut numbers = text.split_whitespace().map(|word| word.parse::<i64>().unwrap());
        let mut next = || numbers.next().unwrap();
        let count = next();
        let size = |length: i64, width: i64| (Length::micrometres(length), Length::micrometres(width));
        let (length, width) = size(next(), next());
        let board = Rect { length, width };
        let mut pieces = Vec::new();
        let mut values = Vec::new();
        for index in 0..count {
            let (length, width) = size(next(), next());
            pieces.push((index as u32, Piece { length, width }));
            values.push(next());
        }
        let cutting = Cutting { kerfs: (Length::ZERO, Length::ZERO), stages: 2, family: Family::Any };
        let best = |layout: Layout| {
            let pricing = TwoStage::new(layout, &pieces, &[board], cutting);
            let priced = pricing.price(&values, &vec![u32::MAX; values.len()], &[0]);
            let counted: i64 = match &priced[0].patterns {
                None => 0,
                Some(traced) => {
                    let counts = traced.relaxed.counts();
                    counts.iter().map(|(piece, n)| values[*piece as usize] * i64::from(*n)).sum()
                }
            };
            assert_eq!(counted, priced[0].bound, "the pattern is worth what it says");
            priced[0].bound
        };
        let found = (best(Layout::RipFirst), best(Layout::CrosscutFirst));
        assert_eq!(found, (*first, *second), "gcut{}", number + 1);
        assert!(found.0.max(found.1) <= *any_stage, "gcut{}", number + 1);
    }
}

/// Boards as wide as the parts, no kerf, no trim, one unit of money a board: bin packing as a job.
fn packing(capacity: u64, sizes: &[(u64, u64)]) -> (i64, i64) {
    let shop = "unit = \"mm\"\n[saw]\nrip_kerf = \"0\"\ncrosscut_kerf = \"0\"\nmax_crosscut_length = \"1000in\"\n\
                [milling]\nend_trim = \"0\"\nedge_trim = \"0\"\n";
    let rows = sizes
        .iter()
        .enumerate()
        .map(|(number, (size, pieces))| format!("P,p{number},{pieces},{size},4,19,oak,1C\n"));
    let parts =
        format!("product,part,pieces,length,width,thickness,species,grade\n{}", rows.collect::<String>());
    let prices = format!("species,quarter,grade,width,length,price,per\noak,4/4,1C,4,{capacity},1,piece\n");
    let folder = Folder::new(&[
        ("shop.toml", shop),
        ("orders.csv", "order,product,quantity\n1,P,1\n"),
        ("parts.csv", &parts),
        ("prices/yard.csv", &prices),
    ]);
    let job = read_job(folder.path()).unwrap();
    let time = Some(std::time::Duration::from_secs(10));
    let options = Options { gap_percent: 0.0, time, ..Options::default() };
    let solution = solve(&job, &options, &|_, _| ()).unwrap();
    let plan = build_plan(&job, &solution, 0.0).unwrap();
    assert_eq!(check(&Document::new(&plan, &job), &job), []);
    let whole = |money: ripwright::measure::Money| money.to_f64().round() as i64;
    (whole(plan.cost.total), whole(plan.cost.lower_bound))
}

/// Falkenauer, Journal of Heuristics 2, 1996 (OR-Library binpack): the third number of each header is the
/// best known; of triplets it is the optimum by construction.
#[test]
fn falkenauer_s_jobs_are_proven_optimal() {
    let Some(folder) = shared_data("falkenauer") else { return };
    for (file, many) in [("binpack2.txt", 4), ("binpack5.txt", 4), ("binpack6.txt", 2)] {
        let text = std::fs::read_to_string(folder.join(file)).unwrap();
        let mut words = text.split_whitespace();
        let _problems = words.next();
        for _ in 0..many {
            let name = words.next().unwrap();
            // Triplets have one decimal: ten times as large they are whole.
            let mut tenths = || (words.next().unwrap().parse::<f64>().unwrap() * 10.0).round() as u64;
            let (capacity, count, best) = (tenths(), tenths() / 10, tenths() / 10);
            let mut demand = std::collections::BTreeMap::new();
            (0..count).for_each(|_| *demand.entry(tenths()).or_insert(0) += 1);
            let sizes: Vec<(u64, u64)> = demand.into_iter().collect();
            assert_eq!(packing(capacity, &sizes), (best as i64, best as i64), "{name}");
        }
    }
}

/// Name, capacity, and (size, pieces).
type Packing = (String, u64, Vec<(u64, u64)>);

/// The problems of a file that names them and has a row for each size.
fn named_problems(text: &str) -> Vec<Packing> {
    let mut problems = Vec::new();
    let mut quoted = text.split('\'').skip(1);
    while let (Some(name), Some(body)) = (quoted.next(), quoted.next()) {
        let mut numbers = body.split_whitespace().map(|word| word.parse::<u64>().unwrap());
        let (count, capacity) = (numbers.next().unwrap(), numbers.next().unwrap());
        let sizes = (0..count).map(|_| (numbers.next().unwrap(), numbers.next().unwrap())).collect();
        problems.push((name.to_string(), capacity, sizes));
    }
    problems
}

/// Schwerin and Waescher 1997: 18 boards for nearly all of set 1 (from memory). The 19 remembered for
/// set 2 is less than its items' area allows, so there the area alone is the check.
#[test]
fn schwerin_s_jobs_are_proven_optimal() {
    let Some(folder) = shared_data("schwerin") else { return };
    for (file, known) in [("SCH_WAE1.BPP", Some(18)), ("SCH_WAE2.BPP", None)] {
        let text = std::fs::read_to_string(folder.join(file)).unwrap();
        for (name, capacity, sizes) in named_problems(&text).into_iter().take(5) {
            let (boards, bound) = packing(capacity, &sizes);
            assert_eq!(boards, bound, "{name}");
            let area: u64 = sizes.iter().map(|(size, pieces)| size * pieces).sum();
            assert!(boards as u64 >= area.div_ceil(capacity), "{name}: {boards}");
            if let Some(known) = known {
                assert!((boards - known).abs() <= 1, "{name}: {boards}");
            }
        }
    }
}

/// Schoenfield's 28 hard instances (Belov and Scheithauer 2006) and those of Waescher and Gau 1996.
#[test]
fn hard_jobs_are_within_one_board_of_the_bound() {
    for (set, file, many) in [("hard28", "hard28", 2), ("waescher", "WAE_GAU1.BPP", 3)] {
        let Some(folder) = shared_data(set) else { continue };
        let text = std::fs::read_to_string(folder.join(file)).unwrap();
        for (name, capacity, sizes) in named_problems(&text).into_iter().skip(1).take(many) {
            let (boards, bound) = packing(capacity, &sizes);
            assert!(boards - bound <= 1, "{set} {name}: {boards}, bound {bound}");
            let area: u64 = sizes.iter().map(|(size, pieces)| size * pieces).sum();
            assert!(bound as u64 >= area.div_ceil(capacity), "{set} {name}");
        }
    }
}
