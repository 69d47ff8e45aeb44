//! An order book of any size, read as a stream: what is due when, and which rows are no orders.
//!
//! A bad row never stops the reading; it is handed to the caller with its reason.

use std::collections::{BTreeMap, BTreeSet};
use std::io::BufRead;
#[cfg(feature = "workbooks")]
use std::io::{Cursor, Read};
use std::path::Path;

use jiff::civil::{Date, Weekday};

use super::log::Log;
use super::names::Names;
use super::orders::{OrderRow, Orders, Repeats, RowName};
use super::read::{end, open, read_stock};
#[cfg(feature = "workbooks")]
use super::sheet::is_workbook;
#[cfg(feature = "workbooks")]
use super::source::Source;
use super::source::decoded;
#[cfg(feature = "workbooks")]
use super::workbook::Workbook;
use crate::job::{Draft, Fault, FaultKind, Job, JobError, Order, RackBoard, Shop};

/// Everything of a job but its orders.
pub struct Base {
    draft: Draft,
    /// Rows of price sheets that were left out.
    pub left_out: Vec<Fault>,
}

/// Reads a job folder without its orders. Bad rows of price sheets are left out and named.
///
/// # Errors
/// Every fault of every other file at once.
pub fn read_base(folder: &Path) -> Result<Base, JobError> {
    let mut log = Log::default();
    let (source, shop) = open(folder, &mut log)?;
    let draft = read_stock(&source, shop, &mut log);
    let borne = |fault: &Fault| fault.file.starts_with("prices/") && fault.row.is_some();
    end(&draft, &mut log, &borne)?;
    Ok(Base { draft, left_out: log.faults })
}

impl Base {
    /// The shop's settings.
    pub fn shop(&self) -> &Shop {
        &self.draft.shop
    }

    /// The products that are described.
    pub fn products(&self) -> BTreeSet<&str> {
        self.draft.parts.iter().map(|part| part.product.as_str()).collect()
    }

    /// How many parts each product has, with the strips of solid wood on its edges.
    pub fn parts_of_products(&self) -> BTreeMap<&str, usize> {
        let mut parts: BTreeMap<&str, usize> = BTreeMap::new();
        for part in &self.draft.parts {
            let strips = crate::job::lippings(part, &self.draft.shop).len();
            *parts.entry(part.product.as_str()).or_default() += 1 + strips;
        }
        parts
    }

    /// Boards on the rack that are promised to nothing.
    pub fn rack(&self) -> &[RackBoard] {
        &self.draft.rack
    }

    /// Takes boards off the rack that are promised to something else.
    pub fn set_aside(&mut self, boards: &BTreeSet<String>) {
        self.draft.rack.retain(|board| !boards.contains(&board.board));
    }

    /// The job of so many of each product that are due from a day on, with such boards on hand.
    ///
    /// # Errors
    /// If more pieces of a part are wanted than can be counted on.
    pub fn job(
        &self,
        products: &BTreeMap<String, u64>,
        due: Option<Date>,
        on_hand: &[RackBoard],
    ) -> Result<Job, JobError> {
        let order =
            |(product, quantity): (&String, &u64)| Order { due, ..Order::new(product, product, *quantity) };
        let mut draft = self.draft.clone();
        draft.orders = products.iter().map(order).collect();
        draft.rack = on_hand.to_vec();
        Job::try_new(draft)
    }
}

/// A row that was not planned, with the reason.
#[derive(Debug, Clone)]
pub struct Reject {
    /// Row as an editor counts it.
    pub row: u64,
    /// Order, where the row names one.
    pub order: String,
    /// Column that is wrong.
    pub column: String,
    /// What it holds.
    pub text: String,
    /// Why it cannot be planned.
    pub reason: String,
}

impl Reject {
    fn of(fault: Fault, name: Option<&RowName>) -> Reject {
        let text = match (&fault.kind, name) {
            (FaultKind::Value { text, .. }, _) => text.as_str(),
            (FaultKind::Unknown { .. }, Some(name)) => name.product.as_str(),
            _ => "",
        };
        let (text, order) = (text.chars().take(60).collect(), name.map_or("", |name| name.order.as_str()));
        Reject {
            row: fault.row.unwrap_or(0),
            order: order.to_string(),
            column: fault.column.unwrap_or_default(),
            text,
            reason: fault.kind.reason(),
        }
    }
}

/// What a book asks for.
#[derive(Debug, Clone, Default)]
#[non_exhaustive]
pub struct Book {
    /// SHA-256 of the file.
    pub hash: String,
    /// Rows that hold anything: those planned, left, later and rejected together.
    pub rows: u64,
    /// Rows that are planned.
    pub planned: u64,
    /// Rows that are done, held or cancelled.
    pub left: u64,
    /// Rows due after the horizon.
    pub later: u64,
    /// Rows that are no orders.
    pub rejected: u64,
    /// Rows that say the same as an earlier one of their order: how many, and what is said of the first few.
    pub repeated: (u64, Vec<String>),
    /// Rows that are planned, by the day they are due.
    pub due: BTreeMap<Date, u64>,
    /// Products wanted, by the Monday of the week they are due; without a date they are wanted now.
    pub demand: BTreeMap<Option<Date>, BTreeMap<String, u64>>,
}

impl Book {
    /// Rows that were due before a day and are planned: their weeks come first.
    pub fn overdue(&self, today: Date) -> u64 {
        self.due.range(..today).map(|(_, rows)| rows).sum()
    }
}

/// Repeated rows that are told one by one.
const REPEATS_TOLD: usize = 5;

/// A row of a book that somebody wants to see.
#[derive(Debug)]
pub enum BookRow<'r> {
    /// It is no order that can be planned.
    Rejected(&'r Reject),
    /// It is planned, as far as nothing else is for it.
    Wanted(&'r Order),
}

/// Orders that something is for already, so that a book asks for nothing more of them.
#[derive(Debug, Clone, Default)]
pub struct SpokenFor {
    /// What is left of each, by order and product.
    left: BTreeMap<(String, String), u64>,
    /// Those that the book still has open.
    seen: BTreeSet<(String, String)>,
}

impl SpokenFor {
    /// Orders and products with how many of each.
    pub fn new(orders: impl Iterator<Item = (String, String, u64)>) -> SpokenFor {
        let mut left: BTreeMap<(String, String), u64> = BTreeMap::new();
        for (order, product, quantity) in orders {
            let sum = left.entry((order, product)).or_insert(0);
            *sum = sum.saturating_add(quantity);
        }
        SpokenFor { left, seen: BTreeSet::new() }
    }

    /// Takes what something is for off an order. True if nothing is left of it.
    fn takes(&mut self, order: &mut Order) -> bool {
        if self.left.is_empty() {
            return false;
        }
        let key = (order.order.clone(), order.product.clone());
        let Some(left) = self.left.get_mut(&key) else { return false };
        let taken = order.quantity.min(*left);
        *left -= taken;
        order.quantity -= taken;
        self.seen.insert(key);
        order.quantity == 0
    }

    /// Did the book have such an order, open?
    pub fn was_seen(&self, order: &str, product: &str) -> bool {
        self.seen.contains(&(order.to_string(), product.to_string()))
    }
}

/// Reads a book up to `until`. What is spoken for is taken off its orders. Every row that is no order, and every one
/// that is planned, is shown to `seen`.
///
/// # Errors
/// If the file cannot be read or its header lacks a column.
pub fn read_book(
    file: &Path,
    base: &Base,
    until: Option<Date>,
    spoken_for: &mut SpokenFor,
    seen: &mut dyn FnMut(BookRow<'_>),
) -> Result<Book, JobError> {
    let name = file.file_name().and_then(|name| name.to_str()).unwrap_or("orders.csv");
    let mut log = Log::default();
    let source = match book_of(file) {
        Ok(source) => source,
        Err(error) => {
            log.fault(name, None, None, FaultKind::Unreadable(error.to_string()));
            return Err(log.into_error());
        }
    };
    let Some(mut orders) = Orders::open(source, name, &mut log) else { return Err(log.into_error()) };
    log.warnings.clear();
    let mut book = Book::default();
    let mut repeats = Repeats::default();
    let products = Names::of(base.products().into_iter());
    loop {
        let next = orders.next(&products, &base.shop().statuses, &mut log);
        // A fault without a row is of the file as a whole.
        if log.faults.iter().any(|fault| fault.row.is_none()) {
            return Err(log.into_error());
        }
        let mut told: BTreeSet<u64> = BTreeSet::new();
        for fault in log.faults.drain(..) {
            // The first fault of a row is its reason.
            if fault.row.is_some_and(|row| told.insert(row)) {
                let name = next.as_ref().map(|(name, _)| name).filter(|name| fault.row == Some(name.row));
                book.rejected += 1;
                book.rows += u64::from(name.is_none());
                seen(BookRow::Rejected(&Reject::of(fault, name)));
            }
        }
        let Some((_, mut row)) = next else { break };
        book.rows += 1;
        if let OrderRow::Wanted(order) = &mut row
            && spoken_for.takes(order)
        {
            // It is planned by what is for it.
            book.planned += 1;
            continue;
        }
        match row {
            OrderRow::Bad => {}
            OrderRow::Left => book.left += 1,
            OrderRow::Wanted(Order { due: Some(date), .. }) if until.is_some_and(|until| date > until) => {
                book.later += 1;
            }
            OrderRow::Wanted(order) => {
                book.planned += 1;
                repeats.add(&order);
                seen(BookRow::Wanted(&order));
                order.due.into_iter().for_each(|day| *book.due.entry(day).or_insert(0) += 1);
                let week = book.demand.entry(order.due.map(monday)).or_default();
                let sum = week.entry(order.product).or_insert(0);
                *sum = sum.saturating_add(order.quantity);
            }
        }
    }
    debug_assert_eq!(book.rows, book.planned + book.left + book.later + book.rejected);
    book.hash = orders.hash();
    let repeats = repeats.found();
    let few = repeats.iter().take(REPEATS_TOLD).map(|pair| Repeats::told(*pair));
    book.repeated = (repeats.len() as u64, few.collect());
    Ok(book)
}

/// An order book as CSV. In a workbook it is the sheet of orders, or the only sheet.
fn book_of(file: &Path) -> std::io::Result<Box<dyn BufRead>> {
    #[cfg(feature = "workbooks")]
    if is_workbook(file) {
        let workbook = Workbook::open(file)?;
        let table = workbook.only_table().unwrap_or("orders.csv").to_string();
        let mut text = Vec::new();
        workbook.open(&table)?.read_to_end(&mut text)?;
        return Ok(Box::new(Cursor::new(text)));
    }
    std::fs::File::open(file).and_then(decoded)
}

/// The Monday of a date's week.
pub fn monday(date: Date) -> Date {
    let back = i64::from(date.weekday().since(Weekday::Monday));
    date.checked_sub(jiff::Span::new().days(back)).unwrap_or(date)
}
