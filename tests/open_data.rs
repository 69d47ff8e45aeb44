//! Pricing and planning against open data sets with known answers.
//!
//! The sets are the ESICUP collection's (CC0), read from `../shared/data`; where the folder is missing
//! a test says that it is skipped. See `benches/README.md` for where the collection is published.

mod support;

use good_lp::{Expression, ProblemVariables, ResolutionError, SolverModel, variable};
use ripwright::check::check;
use ripwright::intake::read_job;
use ripwright::internals::{
    Cell, Cutting, Family, Laid, Layout, Pattern, Piece, Proper, Rect, SizeIndex, Strip, TiVec, TwoStage,
    patterns_worth, ti_vec,
};
use ripwright::internals::{CutBoards, Instance, Supply, different, fewer_settings, more_alike};
use ripwright::job::Job;
use ripwright::measure::{Length, Money};
use ripwright::plan::build_plan;
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
#[cfg_attr(not(open_data), ignore = "the open data sets are not in ../shared/data")]
fn one_board_values_of_the_gcut_set_are_exact() {
    let folder = shared_data("gcut");
    for (number, (any_stage, first, second)) in GCUT.iter().enumerate() {
        let text = std::fs::read_to_string(folder.join(format!("gcut{}.txt", number + 1))).unwrap();
        let mut numbers = text.split_whitespace().map(|word| word.parse::<i64>().unwrap());
        let mut next = || numbers.next().unwrap();
        let count = next();
        let size = |length: i64, width: i64| (Length::micrometres(length), Length::micrometres(width));
        let (length, width) = size(next(), next());
        let board = Rect { length, width };
        let mut pieces = Vec::new();
        let mut values: TiVec<SizeIndex, i64> = TiVec::new();
        for _ in 0..count {
            let (length, width) = size(next(), next());
            pieces.push((values.next_key(), Piece::new(length, width)));
            values.push(next());
        }
        let cutting = Cutting {
            kerfs: (Length::ZERO, Length::ZERO),
            stages: 2,
            family: Family::Any,
            largest_strip: None,
        };
        let best = |layout: Layout| {
            let pricing = TwoStage::new(layout, &pieces, &[board], cutting);
            let priced = pricing.price(&values, &ti_vec![u32::MAX; values.len()], &[0]);
            let counted: i64 = match &priced[0].patterns {
                None => 0,
                Some(traced) => {
                    let counts = traced.relaxed.counts();
                    counts.iter().map(|(piece, n)| values[*piece] * i64::from(*n)).sum()
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

/// Christofides and Whitlock, Operations Research 25(1), 1977, 30-44: one board, limited copies, fixed
/// orientation, any number of stages. The three optima are from memory.
const CGCUT: [i64; 3] = [244, 2892, 1860];

/// A piece of a one-board problem.
#[derive(Clone, Copy)]
struct Wanted {
    length: i64,
    width: i64,
    copies: u32,
    value: i64,
}

/// Can pieces worth `least` be cut from one board in two stages? The compact program of Lodi and Monaci,
/// Mathematical Programming 94 (2003) 257-278, their second model, given to microlp: strip `k` is as
/// wide as the `k`th piece by falling width, which opens it; `x[j][k]` copies of sort `j` lie in it.
fn two_stage_program_reaches(board: (i64, i64), wanted: &[Wanted], main_is_width: bool, least: i64) -> bool {
    let axes = |length: i64, width: i64| if main_is_width { (width, length) } else { (length, width) };
    let (main_room, run_room) = axes(board.0, board.1);
    let mut sorts: Vec<(i64, i64, Wanted)> = wanted
        .iter()
        .map(|piece| {
            let (main, run) = axes(piece.length, piece.width);
            (main, run, *piece)
        })
        .filter(|(main, run, _)| *main <= main_room && *run <= run_room)
        .collect();
    sorts.sort_by_key(|(main, ..)| std::cmp::Reverse(*main));
    // A strip for every copy that may open one.
    let strips: Vec<usize> = (0..sorts.len())
        .flat_map(|sort| {
            let most = (sorts[sort].2.copies as i64).min(main_room / sorts[sort].0);
            std::iter::repeat_n(sort, most as usize)
        })
        .collect();
    let mut problem = ProblemVariables::new();
    let opened: Vec<_> = strips.iter().map(|_| problem.add(variable().binary())).collect();
    // Further pieces of sort j >= that of the opener.
    let inside: Vec<Vec<_>> = strips
        .iter()
        .map(|opener| {
            let most = |sort: usize| f64::from(sorts[sort].2.copies).min((run_room / sorts[sort].1) as f64);
            let further =
                (*opener..sorts.len()).map(|sort| problem.add(variable().integer().min(0).max(most(sort))));
            further.collect()
        })
        .collect();
    let worth = || -> Expression {
        let openers = strips.iter().zip(&opened).map(|(sort, open)| sorts[*sort].2.value as f64 * *open);
        let others = strips.iter().zip(&inside).flat_map(|(opener, inside)| {
            inside.iter().zip(&sorts[*opener..]).map(|(x, sort)| sort.2.value as f64 * *x)
        });
        openers.chain(others).sum()
    };
    let mut model = problem.maximise(worth()).using(good_lp::microlp);
    model.add_constraint(worth().geq(least as f64));
    for (strip, opener) in strips.iter().enumerate() {
        let run: Expression =
            inside[strip].iter().zip(&sorts[*opener..]).map(|(x, sort)| sort.1 as f64 * *x).sum();
        model.add_constraint(run.leq((run_room - sorts[*opener].1) as f64 * opened[strip]));
        if strip > 0 && strips[strip - 1] == *opener {
            model.add_constraint((opened[strip] - opened[strip - 1]).leq(0.0));
        }
    }
    for sort in 0..sorts.len() {
        let mut taken = Expression::from(0.0);
        for (strip, opener) in strips.iter().enumerate().filter(|(_, opener)| **opener <= sort) {
            taken += inside[strip][sort - opener];
            if *opener == sort {
                taken += opened[strip];
            }
        }
        model.add_constraint(taken.leq(f64::from(sorts[sort].2.copies)));
    }
    let across: Expression =
        strips.iter().zip(&opened).map(|(sort, open)| sorts[*sort].0 as f64 * *open).sum();
    model.add_constraint(across.leq(main_room as f64));
    match model.solve() {
        Ok(_) => true,
        Err(ResolutionError::Infeasible) => false,
        Err(other) => panic!("the program has no answer: {other}"),
    }
}

#[test]
#[cfg_attr(not(open_data), ignore = "the open data sets are not in ../shared/data")]
fn one_board_values_of_the_cgcut_set_are_those_of_a_compact_program() {
    let folder = shared_data("cgcut");
    for (number, any_stage) in CGCUT.iter().enumerate() {
        let name = format!("cgcut{}", number + 1);
        let text = std::fs::read_to_string(folder.join(format!("{name}.txt"))).unwrap();
        let mut numbers = text.split_whitespace().map(|word| word.parse::<i64>().unwrap());
        let mut next = || numbers.next().unwrap();
        let count = next();
        let board = (next(), next());
        let wanted: Vec<Wanted> = (0..count)
            .map(|_| Wanted { length: next(), width: next(), copies: next() as u32, value: next() })
            .collect();
        let size = Length::micrometres;
        let pieces: Vec<(SizeIndex, Piece)> = wanted
            .iter()
            .enumerate()
            .map(|(index, piece)| (SizeIndex::from(index), Piece::new(size(piece.length), size(piece.width))))
            .collect();
        let values: TiVec<SizeIndex, i64> = wanted.iter().map(|piece| piece.value).collect();
        let limits: TiVec<SizeIndex, u32> = wanted.iter().map(|piece| piece.copies).collect();
        let rect = Rect { length: size(board.0), width: size(board.1) };
        let worth = |pattern: &Pattern| -> i64 {
            pattern.counts().iter().map(|(piece, n)| values[*piece] * i64::from(*n)).sum()
        };
        let kerfs = (Length::ZERO, Length::ZERO);
        let mut best = Vec::new();
        for (layout, family) in [(Layout::RipFirst, Family::RipFirst), (Layout::CrosscutFirst, Family::Any)] {
            let cutting = Cutting { kerfs, stages: 2, family, largest_strip: None };
            let pricing = TwoStage::new(layout, &pieces, &[rect], cutting);
            let priced = &pricing.price(&values, &limits, &[0])[0];
            let proper = priced.patterns.as_ref().unwrap().proper.clone();
            assert_eq!(worth(&proper.0), proper.1, "{name}: the pattern is worth what it says");
            let listed = patterns_worth(Proper {
                pieces: &pieces,
                limits: &limits,
                values: &values,
                board: rect,
                cutting,
                threshold: proper.1,
                budget: &mut 50_000_000,
                most: usize::MAX,
                is_late: &|| false,
            });
            // The list has both layouts where the family has.
            let of_layout = listed.unwrap().into_iter().filter(|pattern| pattern.layout == layout);
            let value = of_layout.map(|pattern| worth(&pattern)).max().unwrap().max(proper.1);
            assert!(value <= priced.bound, "{name}: {value} above the bound {}", priced.bound);
            best.push((layout, value));
        }
        for (layout, value) in best {
            let main_is_width = layout == Layout::RipFirst;
            assert!(two_stage_program_reaches(board, &wanted, main_is_width, value), "{name}: {layout:?}");
            assert!(
                !two_stage_program_reaches(board, &wanted, main_is_width, value + 1),
                "{name}: {layout:?}"
            );
            assert!(value <= *any_stage, "{name}: {layout:?} {value}");
        }
    }
}

/// Boards as wide as the parts, no kerf, no trim, one unit of money a board: bin packing as a job.
fn packing_job(capacity: u64, sizes: &[(u64, u64)]) -> Job {
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
    read_job(folder.path()).unwrap()
}

/// Cost and bound of such a job.
fn packing(capacity: u64, sizes: &[(u64, u64)]) -> (i64, i64) {
    let job = packing_job(capacity, sizes);
    let time = Some(std::time::Duration::from_secs(10));
    let options = Options { gap_percent: 0.0, time, ..Options::default() };
    let solution = solve(&job, &options, &|_, _| ()).unwrap();
    let plan = build_plan(&solution).unwrap();
    assert_eq!(check(&plan.document(&job), &job), []);
    let whole = |money: ripwright::measure::Money| money.to_f64().round() as i64;
    (whole(plan.cost.total), whole(plan.cost.lower_bound))
}

/// Falkenauer, Journal of Heuristics 2, 1996 (OR-Library binpack): the third number of each header is the
/// best known; of triplets it is the optimum by construction.
#[test]
#[cfg_attr(not(open_data), ignore = "the open data sets are not in ../shared/data")]
fn falkenauer_s_jobs_are_proven_optimal() {
    let folder = shared_data("falkenauer");
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
#[cfg_attr(not(open_data), ignore = "the open data sets are not in ../shared/data")]
fn schwerin_s_jobs_are_proven_optimal() {
    let folder = shared_data("schwerin");
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
#[cfg_attr(not(open_data), ignore = "the open data sets are not in ../shared/data")]
fn hard_jobs_are_within_one_board_of_the_bound() {
    for (set, file, many) in [("hard28", "hard28", 2), ("waescher", "WAE_GAU1.BPP", 3)] {
        let folder = shared_data(set);
        let text = std::fs::read_to_string(folder.join(file)).unwrap();
        for (name, capacity, sizes) in named_problems(&text).into_iter().skip(1).take(many) {
            let (boards, bound) = packing(capacity, &sizes);
            assert!(boards - bound <= 1, "{set} {name}: {boards}, bound {bound}");
            let area: u64 = sizes.iter().map(|(size, pieces)| size * pieces).sum();
            assert!(bound as u64 >= area.div_ceil(capacity), "{set} {name}");
        }
    }
}

/// A solved plan of the pattern reduction set: capacity, sizes, and patterns with their boards.
struct Solved {
    capacity: u64,
    sizes: Vec<u64>,
    patterns: Vec<(u32, Vec<u32>)>,
}

fn solved_plan(text: &str) -> Solved {
    let header = |name: &str| -> u64 {
        let line = text.lines().find(|line| line.trim_end().ends_with(name)).unwrap();
        line.split_whitespace().nth(1).unwrap().parse().unwrap()
    };
    // All sizes are multiples of 125.
    let block = |name: &str| -> Vec<u64> {
        let from = text.split(&format!(" {name}\n")).nth(1).unwrap();
        let lines = from.lines().take_while(|line| !line.contains("PRX"));
        lines.flat_map(|line| line.split_whitespace().map(|word| word.parse().unwrap())).collect()
    };
    let sizes: Vec<u64> = block("PRX1").into_iter().map(|size| size / 125).collect();
    let rows = block("PRX4");
    let rows = rows.chunks(sizes.len()).map(|row| row.iter().map(|n| *n as u32).collect());
    let patterns = block("PRX3").into_iter().map(|boards| boards as u32).zip(rows).collect();
    Solved { capacity: header("PM Max Width") / 125, sizes, patterns }
}

/// The solved plans that Foerster and Wascher (International Journal of Production Research 38(7), 2000,
/// 1657-1676) reduce: the same boards give the same pieces in fewer different patterns.
#[test]
#[cfg_attr(not(open_data), ignore = "the open data sets are not in ../shared/data")]
fn solved_plans_need_fewer_patterns() {
    let folder = shared_data("pattern_reduction");
    let mut names: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    names.retain(|path| path.extension().is_some_and(|extension| extension == "PRX"));
    names.sort();
    let mut all = [0; 4];
    // Every fourth of 49.
    for path in names.into_iter().step_by(4) {
        let solved = solved_plan(&std::fs::read_to_string(&path).unwrap().replace('\r', ""));
        let demand = |patterns: &[(u32, Vec<u32>)]| -> Vec<u32> {
            let of = |size: usize| patterns.iter().map(|(boards, row)| boards * row[size]).sum();
            (0..solved.sizes.len()).map(of).collect()
        };
        let wanted = demand(&solved.patterns);
        let sizes: Vec<(u64, u64)> =
            solved.sizes.iter().zip(&wanted).map(|(size, pieces)| (*size, u64::from(*pieces))).collect();
        let job = packing_job(solved.capacity, &sizes);
        let instance = Instance::new(job.clone());
        let number = |size: u64| {
            let length = Length::micrometres(size as i64 * 1000);
            instance.sizes.iter().position(|one| one.piece.length == length).unwrap().into()
        };
        let numbers: Vec<SizeIndex> = solved.sizes.iter().map(|size| number(*size)).collect();
        let boards = solved.patterns.iter().map(|(copies, row)| {
            let cells = row.iter().zip(&numbers).flat_map(|(n, size)| {
                let run = instance.sizes[*size].piece.length;
                std::iter::repeat_n(Cell::of(run, Laid::straight(*size)), *n as usize)
            });
            let strip = Strip { gap: Length::ZERO, main: Length::micrometres(4000), cells: cells.collect() };
            let pattern = Pattern { layout: Layout::RipFirst, strips: vec![strip] };
            CutBoards { source: Supply::Line(0.into()), pattern, copies: *copies }
        });
        let reduced = more_alike(&instance, boards.collect());
        let rows: Vec<(u32, Vec<u32>)> = reduced
            .iter()
            .map(|board| {
                let counts = board.pattern.counts();
                let of = |size: &SizeIndex| counts.iter().find(|(one, _)| one == size).map_or(0, |(_, n)| *n);
                (board.copies, numbers.iter().map(of).collect())
            })
            .collect();
        let boards = |patterns: &[(u32, Vec<u32>)]| patterns.iter().map(|(boards, _)| boards).sum::<u32>();
        assert_eq!(boards(&rows), boards(&solved.patterns));
        assert!(demand(&rows).iter().zip(&wanted).all(|(cut, wanted)| cut >= wanted));
        for (_, row) in &rows {
            let used: u64 = row.iter().zip(&solved.sizes).map(|(n, size)| u64::from(*n) * size).sum();
            assert!(used <= solved.capacity);
        }
        let name = path.file_name().unwrap().to_string_lossy().to_string();
        // The program's own plan of the same boards.
        let time = Some(std::time::Duration::from_secs(10));
        let options = Options { gap_percent: 0.0, time, threads: 1, ..Options::default() };
        let solution = solve(&job, &options, &|_, _| ()).unwrap();
        let most = Money::cents(100 * i64::from(boards(&solved.patterns)));
        let before = different(&solution.incumbent.boards);
        // A board costs 1: two settings less are worth one.
        let own = fewer_settings(&solution, most, Money::cents(50), &options).unwrap();
        let own = own.0.iter().map(|plan| different(&plan.boards)).fold(before, usize::min);
        assert!(solution.incumbent.cost() <= most, "{name}");
        println!(
            "{name}: {} patterns given, {} left; own {before}, {own} left",
            solved.patterns.len(),
            rows.len()
        );
        all = [all[0] + solved.patterns.len(), all[1] + rows.len(), all[2] + before, all[3] + own];
        assert!(rows.len() <= solved.patterns.len(), "{name}");
    }
    let [given, left, own, own_left] = all;
    println!("all: {given} patterns given, {left} left; own {own}, {own_left} left");
    assert!(left <= given && own_left < own && own_left < given, "{all:?}");
}
