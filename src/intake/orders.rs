//! The one reader of orders: `orders.csv` of a job, and an order book of any size.
//!
//! A status says whether a row is planned, a date when it is due; both mean the same to every command.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::BufRead;

use super::cells;
use super::log::Log;
use super::names::Names;
use super::row::Row;
use super::source::Source;
use super::table::{Columns, Stream};
use crate::job::{FaultKind, MAX_PIECES, Order, Standing, Statuses};

pub const ORDERS: Columns = Columns {
    required: &["order", "product", "quantity"],
    optional: &["due", "status", "done", "priority", "customer", "note"],
};

/// Characters of a customer or a note that are kept.
const LONGEST_NOTE: usize = 120;

/// What a row of an order book is.
pub enum OrderRow {
    /// Products that are wanted.
    Wanted(Order),
    /// Nothing is to be planned for it.
    Left,
    /// No order, for the reasons in the log.
    Bad,
}

/// The rows of an order book.
pub struct Orders<R> {
    stream: Stream<R>,
}

impl<R: BufRead> Orders<R> {
    /// Reads the header; `None` (with the fault recorded) if the file cannot be used at all.
    pub fn open(source: R, file: &str, log: &mut Log) -> Option<Orders<R>> {
        Some(Orders { stream: Stream::open(source, file, &ORDERS, log)? })
    }

    /// The next row; what is no row at all is only recorded in the log. `None` at the end. `described`
    /// are the products of `parts.csv`, `statuses` the shop's own words.
    pub fn next(
        &mut self,
        described: &Names<'_>,
        statuses: &Statuses,
        log: &mut Log,
    ) -> Option<(RowName, OrderRow)> {
        let row = self.stream.next(log)?;
        let text = |column: &str| row.cell(column).to_string();
        let name = RowName { row: row.line, order: text("order"), product: text("product") };
        Some((name, read_order(&row, described, statuses, log)))
    }

    /// SHA-256 of everything read.
    pub fn hash(self) -> String {
        self.stream.hash()
    }
}

/// How a row is named to a person.
pub struct RowName {
    /// Row as an editor counts it.
    pub row: u64,
    /// Order that the row names.
    pub order: String,
    /// Product that the row names.
    pub product: String,
}

fn read_order(row: &Row<'_>, described: &Names<'_>, statuses: &Statuses, log: &mut Log) -> OrderRow {
    let order = row.name("order", log);
    let status = cells::key(row.cell("status"));
    match Standing::of(&status).or_else(|| statuses.get(&status).copied()) {
        Some(Standing::Planned) => {}
        Some(Standing::Left) if order.is_some() => return OrderRow::Left,
        Some(Standing::Left) => return OrderRow::Bad,
        None => {
            let expected =
                "open, done, held, cancelled or closed, or a word that [statuses] of shop.toml explains";
            row.bad::<()>("status", expected, None, log);
            return OrderRow::Bad;
        }
    }
    let product = row.name("product", log).and_then(|_| {
        let what = |product: &str| format!("the product {product} is ordered but not described");
        row.known("product", described, what, "at least one row for it in parts.csv", log).map(str::to_string)
    });
    let quantity = row.whole("quantity", 1, MAX_PIECES, log);
    let due = row.date("due", log);
    let done = row.whole_or("done", 0, 0..=quantity.unwrap_or(MAX_PIECES), log);
    let priority = row.whole_or("priority", u64::from(Order::USUAL_PRIORITY), 1..=9, log);
    let (Some(order), Some(product), Some(quantity), Some(due)) = (order, product, quantity, due) else {
        return OrderRow::Bad;
    };
    let (Some(done), Some(priority)) = (done, priority) else { return OrderRow::Bad };
    if done == quantity {
        return OrderRow::Left;
    }
    let words = |column: &str| row.cell(column).chars().take(LONGEST_NOTE).collect();
    OrderRow::Wanted(Order {
        due,
        priority: priority as u8,
        customer: words("customer"),
        note: words("note"),
        row: row.line,
        ..Order::new(&order, &product, quantity - done)
    })
}

/// Rows of one order that say the same: often one line that was pasted twice.
#[derive(Debug, Default)]
pub struct Repeats {
    /// What each row says, as a hash, with the row: a book may have a million.
    rows: Vec<(u64, u64)>,
}

impl Repeats {
    /// Takes a row that is planned.
    pub fn add(&mut self, order: &Order) {
        let mut hasher = DefaultHasher::new();
        let Order { order, product, quantity, due, row, .. } = order;
        (order, product, quantity, due).hash(&mut hasher);
        self.rows.push((hasher.finish(), *row));
    }

    /// Pairs of the first row and one that says the same, by the second.
    pub fn found(mut self) -> Vec<(u64, u64)> {
        self.rows.sort_unstable();
        let alike = self.rows.chunk_by(|one, other| one.0 == other.0);
        let pairs = alike.flat_map(|rows| rows[1..].iter().map(|(_, row)| (rows[0].1, *row)));
        let mut pairs: Vec<(u64, u64)> = pairs.collect();
        pairs.sort_unstable_by_key(|(first, row)| (*row, *first));
        pairs
    }

    /// What is said of a pair.
    pub fn told((first, row): (u64, u64)) -> String {
        format!("rows {first} and {row} are the same line of an order: both are planned")
    }
}

/// Reads the orders of a job.
pub fn read_orders(
    source: &dyn Source,
    described: &Names<'_>,
    statuses: &Statuses,
    log: &mut Log,
) -> Vec<Order> {
    let file = &source.shown("orders.csv");
    let before = log.faults.len();
    let mut orders = Vec::new();
    let reader = match source.open("orders.csv") {
        Ok(reader) => reader,
        Err(error) => {
            log.fault(file, None, None, FaultKind::Unreadable(error.to_string()));
            return orders;
        }
    };
    let Some(mut rows) = Orders::open(reader, file, log) else { return orders };
    let (mut left, mut bad) = (0, 0);
    let mut repeats = Repeats::default();
    while let Some((_, row)) = rows.next(described, statuses, log) {
        match row {
            OrderRow::Wanted(order) => {
                repeats.add(&order);
                orders.push(order);
            }
            OrderRow::Left => left += 1,
            OrderRow::Bad => bad += 1,
        }
    }
    repeats.found().into_iter().for_each(|pair| log.warn(file, Repeats::told(pair)));
    if orders.is_empty() && bad == 0 && log.faults.len() == before {
        let what = match left {
            0 => "it holds no order".to_string(),
            left => format!("it holds no open order: {left} are done, held, cancelled or closed"),
        };
        log.fault(file, None, None, FaultKind::Empty(what));
    }
    orders
}
