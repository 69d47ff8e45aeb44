//! What a run leaves behind: rejected rows, a summary, its record.

use std::collections::BTreeMap;
use std::io::BufWriter;
use std::path::Path;
use std::time::{Duration, Instant};

use jiff::civil::Date;
use serde_json::json;
use sha2::{Digest, Sha256};

use super::batch::{Batch, BatchTried, batch_name};
use super::capacity::{HoursOfWeeks, MovedEarly};
use super::changes::{BatchChange, changes};
use super::place::{OutFolder, RECORD, last_record};
use super::{Asked, NightlyError};
use crate::intake::{Base, Book, Reject, hex};
use crate::job::{Fault, RackBoard, SawHours};
use crate::measure::{Money, Unit};
use crate::plan::Saws;
#[cfg(feature = "sheets")]
use crate::report::{Calendar, CalendarRow};
use crate::report::{RenderError, WriteError, aligned_text, csv_table, safe_cell, today, write_file};
use crate::solve::Options;

/// The value of `format` in the line for a log.
const LINE_FORMAT: &str = "ripwright-nightly/1";

/// A whole run.
#[derive(Debug, Clone)]
pub struct Night {
    book: Book,
    left_out: usize,
    batches: Vec<Batch>,
    currency: String,
    gap_percent: f64,
    fingerprint: String,
    /// What is other than in the last published run; nothing where there is none.
    changes: Vec<BatchChange>,
    /// What is cut earlier than it is due, since its week does not fit.
    moved: Vec<MovedEarly>,
    hours: SawHours,
    unit: Unit,
}

/// How a run ended, the worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NightEnded {
    /// A batch has no plan.
    Unplanned,
    /// Rows were rejected; all others are planned.
    Rejects,
    /// A plan is outside the gap.
    Stopped,
    /// Everything is planned within the gap.
    Planned,
}

impl Night {
    /// Puts a run together.
    pub fn of(
        asked: &Asked,
        (base, place): (&Base, &OutFolder),
        book: &Book,
        batches: Vec<Batch>,
        moved: Vec<MovedEarly>,
        options: &Options,
    ) -> Night {
        let mut digest = Sha256::new();
        digest.update(book.hash.as_bytes());
        digest.update(format!("{:?} {}", asked.until, asked.carry_percent).as_bytes());
        for batch in &batches {
            match &batch.outcome {
                BatchTried::Planned(planned) => digest.update(planned.hash.as_bytes()),
                BatchTried::Unplanned(why) => digest.update(why.as_bytes()),
            }
        }
        let unit = base.shop().unit;
        Night {
            book: book.clone(),
            left_out: base.left_out.len(),
            changes: changes(&asked.out, &batches, place, unit),
            batches,
            currency: base.shop().currency.clone(),
            gap_percent: options.gap_percent,
            fingerprint: hex(&digest.finalize()),
            moved,
            hours: base.shop().labour.hours,
            unit,
        }
    }

    /// The run's name: the same inputs have the same.
    pub fn name(&self) -> String {
        self.fingerprint[..16].to_string()
    }

    /// How it ended.
    pub fn ended(&self) -> NightEnded {
        if self.batches.iter().any(|batch| batch.planned().is_none()) {
            NightEnded::Unplanned
        } else if self.book.rejected > 0 || self.left_out > 0 {
            NightEnded::Rejects
        } else if self.has_stopped_plans() {
            NightEnded::Stopped
        } else {
            NightEnded::Planned
        }
    }

    /// Is a plan outside the gap?
    pub fn has_stopped_plans(&self) -> bool {
        let stopped = |batch: &Batch| batch.planned().is_some_and(|planned| planned.status == "stopped");
        self.batches.iter().any(stopped)
    }

    /// What is other than in the last published run, for a person.
    pub fn changes_text(&self) -> String {
        self.changes.iter().map(|change| change.text(&self.currency)).collect()
    }

    fn total(&self) -> Money {
        let cost = |batch: &Batch| Money::parse_signed(&batch.planned()?.cost.total).ok();
        self.batches.iter().filter_map(cost).fold(Money::ZERO, |sum, cost| sum + cost)
    }

    /// The largest gap of any batch.
    fn worst_gap(&self) -> f64 {
        let gaps = self.batches.iter().filter_map(|batch| Some(batch.planned()?.cost.gap_percent));
        gaps.fold(0.0, f64::max)
    }

    /// One line of JSON, for a scheduler's log.
    pub fn line(&self) -> String {
        let ended = match self.ended() {
            NightEnded::Unplanned => "unplanned",
            NightEnded::Rejects => "rejects",
            NightEnded::Stopped => "stopped",
            NightEnded::Planned => "planned",
        };
        let line = json!({
            "format": LINE_FORMAT, "ended": ended, "published": true, "run": self.name(), "batches": self.batches.len(),
            "reused": self.batches.iter().filter(|batch| batch.reused).count(),
            "released": self.batches.iter().filter(|batch| batch.released).count(),
            "leftovers": self.batches.iter().map(|batch| self.leftovers(batch).count()).sum::<usize>(),
            "rows": self.book.rows, "planned_rows": self.book.planned, "rejected_rows": self.book.rejected,
            "repeated_rows": self.book.repeated.0, "held_rows": self.book.left, "later_rows": self.book.later,
            "overdue_rows": self.book.overdue(today()),
            "cost": self.total().to_string(), "currency": self.currency, "worst_gap_percent": self.worst_gap(),
        });
        format!("{line}\n")
    }

    /// A page for a person.
    pub fn text(&self) -> String {
        let columns = ["batch", "weeks from", "to", "products", "total", "gap", "status"];
        let mut rows: Vec<Vec<String>> = Vec::new();
        let mut notes = String::new();
        for (number, batch) in self.batches.iter().enumerate() {
            let name = batch_name(number);
            let (total, gap) = match &batch.outcome {
                BatchTried::Planned(planned) => {
                    (planned.cost.total.clone(), format!("{:.2} %", planned.cost.gap_percent))
                }
                BatchTried::Unplanned(why) => {
                    notes.push_str(&format!("\n{name} has no plan: {why}\n"));
                    ("-".to_string(), "-".to_string())
                }
            };
            for joined in &batch.joined {
                let weeks: Vec<String> = joined.weeks.iter().map(|week| day(*week)).collect();
                let (week, is) = if weeks.len() == 1 { ("week", "is") } else { ("weeks", "are") };
                notes.push_str(&format!(
                    "\n{name}: the {week} of {} {is} cut with it; that saves {} {} and the wood lies early at a cost of {:.2}\n",
                    weeks.join(", "),
                    joined.saves,
                    self.currency,
                    joined.carrying
                ));
            }
            if let Some(told) = self.leftovers_told(batch) {
                notes.push_str(&format!("\n{name}: {told}\n"));
            }
            let products: u64 = batch.week.products.values().sum();
            rows.push(vec![
                name,
                day(batch.week.first),
                day(batch.week.last),
                products.to_string(),
                total,
                gap,
                batch.state(),
            ]);
        }
        self.hours_told().iter().for_each(|told| notes.push_str(&format!("\n{told}\n")));
        match self.book.overdue(today()) {
            0 => {}
            1 => notes.push_str("\n1 row was due before today: it is planned first\n"),
            rows => notes.push_str(&format!("\n{rows} rows were due before today: they are planned first\n")),
        }
        let (repeated, few) = &self.book.repeated;
        few.iter().for_each(|told| notes.push_str(&format!("\n{told}\n")));
        if *repeated > few.len() as u64 {
            notes.push_str(&format!("\nand {} more rows are repeated\n", repeated - few.len() as u64));
        }
        format!(
            "{} rows: {} planned, {} done or held, {} due later, {} rejected\n{} {} in all\n\n{}{}",
            self.book.rows,
            self.book.planned,
            self.book.left,
            self.book.later,
            self.book.rejected + self.left_out as u64,
            self.total(),
            self.currency,
            aligned_text(&columns, &rows),
            notes
        )
    }

    /// Boards that earlier batches leave and a batch takes, with the batch that leaves each.
    fn leftovers<'b>(&'b self, batch: &'b Batch) -> impl Iterator<Item = (usize, &'b RackBoard)> {
        let takes = batch.planned().map_or(&[][..], |planned| planned.takes.as_slice());
        let left = self.batches.iter().enumerate();
        let left = left.filter_map(|(number, batch)| Some((number, batch.planned()?)));
        let left = left.flat_map(|(number, planned)| planned.leaves.iter().map(move |board| (number, board)));
        left.filter(|(_, board)| takes.contains(&board.board))
    }

    fn leftovers_told(&self, batch: &Batch) -> Option<String> {
        let mut from: BTreeMap<usize, u64> = BTreeMap::new();
        self.leftovers(batch).for_each(|(number, _)| *from.entry(number).or_default() += 1);
        let told = from.into_iter().map(|(number, boards)| match boards {
            1 => format!("a board that {} leaves", batch_name(number)),
            boards => format!("{boards} boards that {} leaves", batch_name(number)),
        });
        let told: Vec<String> = told.collect();
        let saved = batch.saved_by_leftovers.filter(|saved| *saved > Money::ZERO);
        let saved = saved.map_or(String::new(), |saved| format!("; that saves {saved} {}", self.currency));
        (!told.is_empty()).then(|| format!("it takes {}{saved} (leftovers.csv)", told.join(", ")))
    }

    /// Boards that one batch leaves and another one takes, as a table.
    fn leftovers_csv(&self) -> Result<Vec<u8>, RenderError> {
        let header = ["board", "left_by", "taken_by", "species", "quarter", "grade", "width", "length"];
        let batches = self.batches.iter().enumerate();
        let rows = batches.flat_map(|(number, batch)| {
            let row = move |(left_by, board): (usize, &RackBoard)| {
                let [width, length] =
                    [board.width, board.length].map(|size| size.display(self.unit).to_string());
                vec![
                    board.board.clone(),
                    batch_name(left_by),
                    batch_name(number),
                    board.species.clone(),
                    board.quarter.to_string(),
                    board.grade.to_string(),
                    width,
                    length,
                ]
            };
            self.leftovers(batch).map(row)
        });
        csv_table(&header, rows.collect())
    }

    /// The batches of a week by name, with what goes with one or several of them.
    fn names_of(&self, week: Option<Date>, is_released: bool) -> (String, &'static str) {
        let batches = self.batches.iter().enumerate();
        let of_week = batches.filter(|(_, batch)| batch.week.first == week && batch.released == is_released);
        let names: Vec<String> = of_week.map(|(number, _)| batch_name(number)).collect();
        (names.join(" and "), if names.len() == 1 { "does not" } else { "do not" })
    }

    /// What the saws cannot do in their week, and what is cut earlier for it.
    fn hours_told(&self) -> Vec<String> {
        let mut told = Vec::new();
        let (released, open): (Vec<_>, Vec<_>) = self.batches.iter().partition(|batch| batch.released);
        let (taken, asked) = (HoursOfWeeks::by(released), HoursOfWeeks::by(open));
        // What is released fits or not, whatever else the week asks for.
        let none = HoursOfWeeks::default();
        for (asked, taken, is_released) in [(&taken, &none, true), (&asked, &taken, false)] {
            for (week, saw) in asked.weeks().flat_map(|week| Saws::ALL.map(|saw| (week, saw))) {
                let (hours, before) = (asked.of(week, saw), taken.of(week, saw));
                let Some(most) = saw.hours(&self.hours).filter(|most| hours > 0.0 && before + hours > *most)
                else {
                    continue;
                };
                let beside = match before {
                    0.0 => String::new(),
                    before => format!(", {before:.1} of which are released already"),
                };
                let (names, do_not) = self.names_of(week, is_released);
                let saw = saw.words();
                told.push(format!(
                    "{names} {do_not} fit: the {saw} needs {hours:.1} hours of {most:.1} a week{beside}"
                ));
            }
        }
        for MovedEarly { due, cut, products } in &self.moved {
            let of = if *products == 1 { "1 product".to_string() } else { format!("{products} products") };
            let are = if *products == 1 { "is" } else { "are" };
            told.push(format!(
                "{of} of the week of {due} {are} cut in the week of {cut}, since the saws are busy"
            ));
        }
        told
    }

    /// The weeks on a page.
    #[cfg(feature = "sheets")]
    fn calendar(&self) -> Calendar {
        let row = |(number, batch): (usize, &Batch)| {
            let planned = batch.planned();
            let saws = batch.loads().iter();
            CalendarRow {
                name: batch_name(number),
                first: day(batch.week.first),
                last: day(batch.week.last),
                products: batch.week.products.values().sum(),
                boards: planned.map_or(0, |planned| planned.boards),
                total: planned.map_or("-".to_string(), |planned| planned.cost.total.clone()),
                saws: saws.map(|load| (load.saw, load.hours, load.saw.hours(&self.hours))).collect(),
                state: batch.state(),
            }
        };
        let rows = self.batches.iter().enumerate().map(row).collect();
        Calendar { currency: self.currency.clone(), rows, notes: self.hours_told() }
    }

    fn csv(&self) -> String {
        let mut text =
            "batch,first_week,last_week,products,status,total,lower_bound,gap_percent,released,saw_hours\n"
                .to_string();
        for (number, batch) in self.batches.iter().enumerate() {
            let day = |date: Option<Date>| date.map_or(String::new(), |date| date.to_string());
            let products: u64 = batch.week.products.values().sum();
            let cost = batch.planned().map(|planned| {
                let cost = &planned.cost;
                format!("{},{},{},{}", planned.status, cost.total, cost.lower_bound, cost.gap_percent)
            });
            let cost = cost.unwrap_or("no-plan,,,".to_string());
            let (first, last) = (day(batch.week.first), day(batch.week.last));
            let released = if batch.released { "yes" } else { "no" };
            let hours: f64 = batch.loads().iter().map(|load| load.hours).sum();
            text.push_str(&format!(
                "{},{first},{last},{products},{cost},{released},{hours:.2}\n",
                batch_name(number)
            ));
        }
        text
    }
}

fn day(date: Option<Date>) -> String {
    date.map_or("no date".to_string(), |date| date.to_string())
}

/// Writes a run's files into its folder.
pub fn write(
    night: &Night,
    fresh: &Path,
    place: &OutFolder,
    (start, read): (Instant, Duration),
) -> Result<(), NightlyError> {
    for (number, batch) in night.batches.iter().enumerate() {
        if let Some(planned) = batch.planned() {
            place.show(&planned.key, &fresh.join(batch_name(number)))?;
        }
    }
    write_file(fresh, "summary.txt", night.text().as_bytes())?;
    write_file(fresh, "summary.csv", night.csv().as_bytes())?;
    write_file(fresh, "leftovers.csv", &night.leftovers_csv()?)?;
    #[cfg(feature = "sheets")]
    write_file(fresh, Calendar::FILE_NAME, &night.calendar().bytes()?)?;
    let seconds = |time: Duration| (time.as_secs_f64() * 1000.0).round() / 1000.0;
    let batches: Vec<serde_json::Value> = night
        .batches
        .iter()
        .enumerate()
        .map(|(number, batch)| {
            json!({
                "batch": batch_name(number), "reused": batch.reused, "released": batch.released,
                "first_week": batch.week.first, "last_week": batch.week.last,
                "products": batch.week.products, "key": batch.planned().map(|planned| &planned.key),
                "plan_sha256": batch.planned().map(|planned| &planned.hash),
                "total": batch.planned().map(|planned| &planned.cost.total),
                "gap_percent": batch.planned().map(|planned| planned.cost.gap_percent),
                "status": batch.planned().map(|planned| planned.status.clone()),
                "turns": batch.planned().and_then(|planned| planned.turns),
            })
        })
        .collect();
    let record = json!({
        "format": "ripwright-run/1", "program": env!("CARGO_PKG_VERSION"), "run": night.name(),
        "book_sha256": night.book.hash, "gap_asked_percent": night.gap_percent,
        "planned_rows": night.book.planned, "read_seconds": seconds(read), "total_seconds": seconds(start.elapsed()),
        "peak_memory_kb": peak_memory(), "batches": batches,
    });
    let text = serde_json::to_string_pretty(&record).map_err(crate::report::RenderError::from)?;
    let changes = json!({ "format": "ripwright-changes/1", "run": night.name(), "batches": night.changes });
    write_file(fresh, "changes.json", format!("{changes:#}\n").as_bytes())?;
    write_file(fresh, RECORD, (text + "\n").as_bytes())?;
    Ok(())
}

/// Rows that the last published run planned, where there is one that says so.
pub fn rows_planned_before(out: &Path) -> Option<u64> {
    last_record::<serde_json::Value>(out)?.get("planned_rows")?.as_u64()
}

/// The line of JSON for a scheduler's log where nothing was published.
pub fn line_of_failure(why: &str) -> String {
    format!("{}\n", json!({ "format": LINE_FORMAT, "ended": "failed", "published": false, "error": why }))
}

/// Peak memory as the system knows it, where it says so.
fn peak_memory() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// `rejects.csv`, written as the rows come.
pub struct Rejects {
    writer: csv::Writer<BufWriter<std::fs::File>>,
    path: std::path::PathBuf,
}

impl Rejects {
    /// Opens the file in a run's folder.
    pub fn create(fresh: &Path) -> Result<Rejects, WriteError> {
        let path = fresh.join("rejects.csv");
        let file = std::fs::File::create(&path).map_err(|why| WriteError { path: path.clone(), why })?;
        let mut rejects = Rejects { writer: csv::Writer::from_writer(BufWriter::new(file)), path };
        rejects.write(["file", "row", "order", "column", "text", "reason"].map(String::from))?;
        Ok(rejects)
    }

    fn write(&mut self, cells: [String; 6]) -> Result<(), WriteError> {
        let cells = cells.map(|cell| safe_cell(&cell));
        let path = &self.path;
        self.writer
            .write_record(&cells)
            .map_err(|error| WriteError { path: path.clone(), why: std::io::Error::other(error) })
    }

    /// A row of the book.
    pub fn row(&mut self, reject: &Reject) -> Result<(), WriteError> {
        let Reject { row, order, column, text, reason } = reject.clone();
        self.write(["orders".to_string(), row.to_string(), order, column, text, reason])
    }

    /// A row of another file.
    pub fn fault(&mut self, fault: &Fault) -> Result<(), WriteError> {
        let row = fault.row.map_or(String::new(), |row| row.to_string());
        let column = fault.column.clone().unwrap_or_default();
        self.write([fault.file.clone(), row, String::new(), column, String::new(), fault.to_string()])
    }

    /// Puts everything on the disk.
    pub fn finish(mut self) -> Result<(), WriteError> {
        let path = self.path.clone();
        let failed = |why: std::io::Error| WriteError { path: path.clone(), why };
        self.writer.flush().map_err(failed)?;
        let file = self.writer.into_inner().map_err(|error| failed(error.into_error()))?;
        let file = file.into_inner().map_err(|error| failed(error.into_error()))?;
        file.sync_all().map_err(failed)
    }
}
