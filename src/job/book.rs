//! An order book of any size, read as a stream: what is due when, and which rows are no orders.
//!
//! A bad row never stops the reading; it is handed to the caller with its reason.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;

use jiff::civil::{Date, Weekday};
use sha2::{Digest, Sha256};

use super::glue::glue_what_no_board_gives;
use super::model::Order;
use super::orders::demanded_parts;
use super::read::{Stock, end, open, read_stock, within_limits};
use super::table::Log;
use super::{Fault, FaultKind, Job, JobError, Shop};

/// Longest row that is read: a longer one is a file gone wrong.
const LONGEST_ROW: u64 = 1 << 20;
/// Products of one row.
const MOST_PRODUCTS: u64 = 1_000_000;
/// Rows of these states are planned.
const PLANNED: [&str; 2] = ["", "open"];
/// Rows of these states are not, and are no fault.
const LEFT: [&str; 4] = ["done", "held", "cancelled", "closed"];

/// Everything of a job but its orders.
pub struct Base {
    stock: Stock,
    /// Rows of price sheets that were left out.
    pub left_out: Vec<Fault>,
}

/// Reads a job folder without its orders. Bad rows of price sheets are left out and named.
///
/// # Errors
/// Every fault of every other file at once.
pub fn read_base(folder: &Path) -> Result<Base, JobError> {
    let mut log = Log::default();
    let shop = open(folder, &mut log)?;
    let stock = read_stock(folder, shop, &mut log);
    let borne = |fault: &Fault| fault.file.starts_with("prices/") && fault.row.is_some();
    end(&stock.suppliers, &stock.rack, &mut log, &borne)?;
    Ok(Base { stock, left_out: log.faults })
}

impl Base {
    /// The shop's settings.
    pub fn shop(&self) -> &Shop {
        &self.stock.shop
    }

    /// The products that are described.
    pub fn products(&self) -> std::collections::BTreeSet<&str> {
        self.stock.parts.iter().map(|row| row.part.product.as_str()).collect()
    }

    /// The job of so many of each product, with or without what is on the rack.
    ///
    /// # Errors
    /// If more pieces of a part are wanted than can be counted on.
    pub fn job(&self, products: &BTreeMap<String, u64>, with_rack: bool) -> Result<Job, JobError> {
        let order = |(product, quantity): (&String, &u64)| {
            let order =
                Order { order: product.clone(), product: product.clone(), quantity: *quantity, due: None };
            (0, order)
        };
        let orders: Vec<(u64, Order)> = products.iter().map(order).collect();
        let mut log = Log::default();
        let parts = demanded_parts(&orders, self.stock.parts.clone(), &mut log);
        within_limits(&parts, &self.stock.lines, &self.stock.rack, &mut log);
        if !log.faults.is_empty() {
            return Err(JobError::Faults { faults: log.faults, warnings: Vec::new() });
        }
        let mut job = Job {
            shop: self.stock.shop.clone(),
            orders: orders.into_iter().map(|(_, order)| order).collect(),
            parts,
            suppliers: self.stock.suppliers.clone(),
            lines: self.stock.lines.clone(),
            rack: if with_rack { self.stock.rack.clone() } else { Vec::new() },
            work: self.stock.work.clone(),
            warnings: Vec::new(),
        };
        glue_what_no_board_gives(&mut job);
        Ok(job)
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

/// What a book asks for.
#[derive(Debug, Clone, Default)]
pub struct Book {
    /// SHA-256 of the file.
    pub hash: String,
    /// Rows that hold anything.
    pub rows: u64,
    /// Rows that are planned.
    pub planned: u64,
    /// Rows that are done, held or cancelled.
    pub left: u64,
    /// Rows due after the horizon.
    pub later: u64,
    /// Rows that are no orders.
    pub rejected: u64,
    /// Products wanted, by the Monday of the week they are due; without a date they are wanted now.
    pub demand: BTreeMap<Option<Date>, BTreeMap<String, u64>>,
}

/// Bytes as hexadecimal digits: how a hash of content is written everywhere.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Reads a book up to `until`. Every row that is no order goes to `reject`.
///
/// # Errors
/// If the file cannot be read or its header lacks a column.
pub fn read_book(
    file: &Path,
    base: &Base,
    until: Option<Date>,
    reject: &mut dyn FnMut(&Reject),
) -> Result<Book, JobError> {
    let name = file.file_name().and_then(|name| name.to_str()).unwrap_or("orders.csv").to_string();
    let fault = |row: Option<u64>, kind: FaultKind| {
        let fault = Fault { file: name.clone(), row, column: None, kind };
        JobError::Faults { faults: vec![fault], warnings: Vec::new() }
    };
    let unreadable = |error: std::io::Error| fault(None, FaultKind::Unreadable(error.to_string()));
    let mut lines =
        Lines::new(BufReader::with_capacity(1 << 16, std::fs::File::open(file).map_err(unreadable)?));
    let mut header: Option<Header> = None;
    let mut book = Book::default();
    let products = base.products();
    while let Some(row) = lines.next().map_err(unreadable)? {
        let text = match std::str::from_utf8(&lines.record) {
            Ok(text) => text.trim_matches(['\r', '\n']),
            Err(_) => {
                book.rows += 1;
                book.rejected += 1;
                reject(&Reject {
                    row,
                    order: String::new(),
                    column: String::new(),
                    text: String::new(),
                    reason: "the text is not UTF-8; save the file as UTF-8".to_string(),
                });
                continue;
            }
        };
        if text.trim().is_empty() {
            continue;
        }
        let Some(columns) = &header else {
            let text = text.strip_prefix('\u{feff}').unwrap_or(text);
            header = Some(Header::read(text).map_err(|what| fault(Some(row), FaultKind::Header(what)))?);
            continue;
        };
        book.rows += 1;
        let bad = |column: &str, text: &str, reason: &str, order: &str| Reject {
            row,
            order: order.to_string(),
            column: column.to_string(),
            text: text.chars().take(60).collect(),
            reason: reason.to_string(),
        };
        let outcome = columns.cells(text, lines.too_long).and_then(|cells| {
            let [order, product, quantity, due, status] = cells.each_ref().map(|cell| cell.as_ref());
            if order.is_empty() {
                return Err(bad("order", order, "expected an order's name", order));
            }
            let status = status.to_ascii_lowercase();
            if LEFT.contains(&status.as_str()) {
                return Ok(None);
            }
            if !PLANNED.contains(&status.as_str()) {
                return Err(bad("status", &status, "expected open, done, held, cancelled or closed", order));
            }
            if !products.contains(product) {
                return Err(bad("product", product, "no row of parts.csv describes it", order));
            }
            let plain = !quantity.is_empty() && quantity.bytes().all(|byte| byte.is_ascii_digit());
            let count =
                quantity.parse::<u64>().ok().filter(|count| plain && (1..=MOST_PRODUCTS).contains(count));
            let Some(count) = count else {
                let reason = "expected a whole number from 1 to 1000000";
                return Err(bad("quantity", quantity, reason, order));
            };
            let date = match due {
                "" => None,
                text => match text.parse::<Date>() {
                    Ok(date) => Some(date),
                    Err(_) => return Err(bad("due", due, "expected a date such as 2027-03-31", order)),
                },
            };
            Ok(Some((product.to_string(), count, date)))
        });
        match outcome {
            Ok(None) => book.left += 1,
            Ok(Some((_, _, Some(date)))) if until.is_some_and(|until| date > until) => book.later += 1,
            Ok(Some((product, count, date))) => {
                book.planned += 1;
                let week = book.demand.entry(date.map(monday)).or_default();
                let sum = week.entry(product).or_insert(0);
                *sum = sum.saturating_add(count);
            }
            Err(why) => {
                book.rejected += 1;
                reject(&Reject { row, ..why });
            }
        }
    }
    if header.is_none() {
        return Err(fault(None, FaultKind::Empty("it is empty".to_string())));
    }
    book.hash = lines.hash();
    Ok(book)
}

/// The Monday of a date's week.
fn monday(date: Date) -> Date {
    let back = i64::from(date.weekday().since(Weekday::Monday));
    date.checked_sub(jiff::Span::new().days(back)).unwrap_or(date)
}

/// Rows of a file one by one; a quoted cell may hold line ends.
struct Lines<R> {
    reader: R,
    digest: Sha256,
    record: Vec<u8>,
    too_long: bool,
    next_line: u64,
}

impl<R: BufRead> Lines<R> {
    fn new(reader: R) -> Lines<R> {
        Lines { reader, digest: Sha256::new(), record: Vec::new(), too_long: false, next_line: 1 }
    }

    /// Reads the next row; gives its line.
    fn next(&mut self) -> std::io::Result<Option<u64>> {
        self.record.clear();
        self.too_long = false;
        let first = self.next_line;
        loop {
            let before = self.record.len();
            let read = (&mut self.reader).take(LONGEST_ROW).read_until(b'\n', &mut self.record)?;
            if read == 0 {
                return Ok((before > 0).then_some(first));
            }
            self.digest.update(&self.record[before..]);
            let whole = self.record.ends_with(b"\n");
            self.next_line += u64::from(whole);
            if self.record.len() as u64 > LONGEST_ROW {
                self.too_long = true;
                self.record.clear();
                self.record.push(b'?');
            }
            // An odd number of quotes: the row goes on.
            let quotes = self.record.iter().filter(|byte| **byte == b'"').count();
            if whole && quotes % 2 == 0 {
                return Ok(Some(first));
            }
        }
    }

    fn hash(self) -> String {
        hex(&self.digest.finalize())
    }
}

/// Where the columns are.
struct Header {
    delimiter: u8,
    /// order, product, quantity, due, status.
    places: [Option<usize>; 5],
    width: usize,
}

impl Header {
    fn read(text: &str) -> Result<Header, String> {
        let count = |byte: u8| text.bytes().filter(|found| *found == byte).count();
        let delimiter = if count(b';') > count(b',') { b';' } else { b',' };
        let names: Vec<String> =
            split(text, delimiter).iter().map(|name| name.trim().to_ascii_lowercase()).collect();
        let place = |name: &str| names.iter().position(|other| other == name);
        for required in ["order", "product", "quantity"] {
            if place(required).is_none() {
                return Err(format!("the column {required} is missing; expected order, product, quantity"));
            }
        }
        let places = ["order", "product", "quantity", "due", "status"].map(place);
        Ok(Header { delimiter, places, width: names.len() })
    }

    fn cells<'t>(&self, text: &'t str, too_long: bool) -> Result<[std::borrow::Cow<'t, str>; 5], Reject> {
        let wrong = |reason: String| Reject {
            row: 0,
            order: String::new(),
            column: String::new(),
            text: text.chars().take(60).collect(),
            reason,
        };
        if too_long {
            return Err(wrong(
                "the row is longer than a megabyte; is a quotation mark left open?".to_string(),
            ));
        }
        let cells = split(text, self.delimiter);
        if cells.len() < self.width {
            return Err(wrong(format!(
                "the row has {} cells where the header has {}",
                cells.len(),
                self.width
            )));
        }
        Ok(self.places.map(|place| match place.and_then(|place| cells.get(place)) {
            Some(std::borrow::Cow::Borrowed(cell)) => std::borrow::Cow::Borrowed(cell.trim()),
            Some(cell) => std::borrow::Cow::Owned(cell.trim().to_string()),
            None => std::borrow::Cow::Borrowed(""),
        }))
    }
}

/// The cells of a row. Rows without quotation marks are cut without copying.
fn split(text: &str, delimiter: u8) -> Vec<std::borrow::Cow<'_, str>> {
    if !text.contains('"') {
        return text.split(delimiter as char).map(std::borrow::Cow::Borrowed).collect();
    }
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).delimiter(delimiter).from_reader(text.as_bytes());
    match reader.records().next() {
        Some(Ok(record)) => record.iter().map(|cell| std::borrow::Cow::Owned(cell.to_string())).collect(),
        _ => Vec::new(),
    }
}
