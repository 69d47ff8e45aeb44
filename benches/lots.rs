//! What a buy by grade costs beside the plan of clear boards with a quarter more of everything, both judged on a thousand
//! lots that neither has seen.
//!
//! `python3 scripts/jobs.py graded-12 F`, the same with `piece-12`, then `cargo bench --bench lots -- F 12 10` for ten jobs
//! of twelve part rows.

use std::collections::BTreeMap;
use std::path::Path;
use std::time::Duration;

use ripwright::intake::read_job_as_it_is;
use ripwright::internals::{LineIndex, Purchase};
use ripwright::job::Job;
use ripwright::planning::{Request, plan, share_of_unseen_lots};
use ripwright::solve::{Options, Solution, solve};

const LOTS: u64 = 1_000;

/// Boards by price line.
type Boards = BTreeMap<LineIndex, u64>;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    let [folder, rows, many] = &words[..] else {
        println!(
            "cargo bench --bench lots -- FOLDER ROWS JOBS, with jobs of graded-ROWS and piece-ROWS in the folder"
        );
        return;
    };
    let many: usize = many.parse().expect("a number of jobs");
    println!("job        by grade        a quarter more      as sure");
    for number in 0..many {
        let job =
            |kind: &str| read_job_as_it_is(&Path::new(folder).join(format!("{kind}{rows}-{number:02}")));
        let (graded, clear) = (job("graded").expect("a job"), job("piece").expect("a job"));
        let line = Compared::new(&graded, &clear);
        println!("{rows}-{number:02}  {line}");
    }
}

/// Three buys: by grade; the clear plan and a quarter more; the clear plan and as much more as makes it as sure.
struct Compared {
    by_grade: (f64, f64),
    a_quarter_more: (f64, f64),
    as_sure: (f64, f64, u64),
}

impl std::fmt::Display for Compared {
    fn fmt(&self, line: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let ((cost, share), (other, its)) = (self.by_grade, self.a_quarter_more);
        let (sure, its_share, percent) = self.as_sure;
        write!(
            line,
            "{cost:8.2} {share:5.1} %  {other:8.2} {its:5.1} %  {sure:8.2} {its_share:5.1} % (+{percent} %)"
        )
    }
}

impl Compared {
    fn new(graded: &Job, clear: &Job) -> Compared {
        let options = Options { gap_percent: 1.0, time: Some(Duration::from_secs(20)), ..Options::default() };
        // The values that lots are cut by, for both buys.
        let values = solve(graded, &options, &|_, _| ()).expect("a plan");
        let request = Request::new(options.clone()).with_confidence(Request::CONFIDENCE_PERCENT);
        let checked = plan(graded, &request, &|_| ()).expect("a plan");
        let own: Boards = checked.plan().buy.iter().map(|row| (row.line, row.boards)).collect();
        let clear = solve(clear, &options, &|_, _| ()).expect("a plan");
        let rows = clear.incumbent.purchase.rows.iter();
        let clear: Boards = rows.map(|row| (row.line, row.boards)).collect();
        let more = |percent: u64| -> Boards {
            clear.iter().map(|(line, boards)| (*line, (boards * (100 + percent)).div_ceil(100))).collect()
        };
        let judged = |boards: &Boards| (cost(graded, boards), share(&values, boards, &options));
        let by_grade = judged(&own);
        let mut percent = 25;
        let a_quarter_more = judged(&more(percent));
        let mut as_sure = a_quarter_more;
        while as_sure.1 < by_grade.1 && percent < 1_000 {
            percent += 25;
            as_sure = judged(&more(percent));
        }
        Compared { by_grade, a_quarter_more, as_sure: (as_sure.0, as_sure.1, percent) }
    }
}

fn cost(job: &Job, boards: &Boards) -> f64 {
    let purchase = Purchase::new(job, boards).expect("a sum that is not too large");
    (purchase.lumber + purchase.delivery).to_f64()
}

fn share(values: &Solution, boards: &Boards, options: &Options) -> f64 {
    let bought: Vec<(LineIndex, u64)> = boards.iter().map(|(line, boards)| (*line, *boards)).collect();
    share_of_unseen_lots(values, &bought, LOTS, options).expect("threads")
}
