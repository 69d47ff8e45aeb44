//! `orders.csv` and `parts.csv`: what is wanted.

use std::collections::BTreeMap;
use std::path::Path;

use super::model::{Fit, Order, Part, Shop};
use super::read::{MAX_PART_LENGTH, MAX_PART_WIDTH};
use super::table::{Columns, Log, Row, Table};
use super::{FaultKind, model};
use crate::measure::Length;
use crate::trade::{Grade, Quarter};

/// Pieces of one part over all orders: more is a typing error, and counts must stay exact.
const MAX_PIECES: u64 = 1_000_000;

const ORDERS: Columns = Columns { required: &["order", "product", "quantity"], optional: &["due"] };
const PARTS: Columns = Columns {
    required: &["product", "part", "pieces", "length", "width", "thickness", "species"],
    optional: &["grade", "fit", "glue_up"],
};

/// Reads the order lines.
pub fn read_orders(folder: &Path, log: &mut Log) -> Vec<(u64, Order)> {
    let Some(table) = Table::read(folder, "orders.csv", &ORDERS, log) else { return Vec::new() };
    let rows: Vec<(u64, Order)> =
        table.rows().filter_map(|row| read_order(&row, log).map(|order| (row.line, order))).collect();
    if table.rows().next().is_none() {
        log.fault("orders.csv", None, None, FaultKind::Empty("it holds no order".to_string()));
    }
    rows
}

fn read_order(row: &Row<'_>, log: &mut Log) -> Option<Order> {
    let order = row.name("order", log);
    let product = row.name("product", log);
    let quantity = row.whole("quantity", 1, MAX_PIECES, log);
    let due = match row.cell("due") {
        "" => Some(None),
        text => match text.parse() {
            Ok(date) => Some(Some(date)),
            Err(_) => row.bad("due", "a date such as 2027-03-31", None, log),
        },
    };
    Some(Order { order: order?, product: product?, quantity: quantity?, due: due? })
}

/// A part as its row describes it, before demand is known.
#[derive(Debug, Clone)]
pub struct PartRow {
    pub line: u64,
    pub part: Part,
    pub pieces: u64,
}

/// Reads the parts of every product.
pub fn read_parts(folder: &Path, shop: &Shop, log: &mut Log) -> Vec<PartRow> {
    let Some(table) = Table::read(folder, "parts.csv", &PARTS, log) else { return Vec::new() };
    let mut seen: BTreeMap<(String, String), u64> = BTreeMap::new();
    let mut parts = Vec::new();
    for row in table.rows() {
        let Some(read) = read_part(&row, shop, log) else { continue };
        let key = (read.part.product.clone(), read.part.part.clone());
        match seen.get(&key) {
            Some(first_row) => {
                let what = format!("the part {} of {}", key.1, key.0);
                row.fault("part", FaultKind::Duplicate { what, first_row: *first_row }, log);
            }
            None => {
                seen.insert(key, row.line);
                parts.push(read);
            }
        }
    }
    parts
}

fn read_part(row: &Row<'_>, shop: &Shop, log: &mut Log) -> Option<PartRow> {
    let product = row.name("product", log);
    let part = row.name("part", log);
    let pieces = row.whole("pieces", 1, MAX_PIECES, log);
    let length = row.length("length", shop.unit, MAX_PART_LENGTH, log);
    let width = row.length("width", shop.unit, MAX_PART_WIDTH, log);
    let thickness = row.length("thickness", shop.unit, Quarter::quarters(32).rough(), log);
    let species = row.name("species", log);
    let grades = "FAS, F1F, SEL, 1C, 2A or 3A";
    let grade = row.choice("grade", Grade::parse, Some(Grade::C3a), grades, log);
    let fits = [Fit::Stop, Fit::Creep, Fit::ToWork];
    let parse_fit = |text: &str| fits.into_iter().find(|fit| fit.name().eq_ignore_ascii_case(text));
    let fit = row.choice("fit", parse_fit, Some(Fit::Stop), "stop, creep or to-work", log);
    let glue_up = row.choice("glue_up", yes_no, Some(false), "yes or no", log);
    let (length, width, fit) = (length?, width?, fit?);
    let milling = &shop.milling;
    let extra = match fit {
        Fit::Stop => Length::ZERO,
        Fit::Creep => milling.creep_allowance,
        Fit::ToWork => milling.to_work_allowance,
    };
    let part = Part {
        product: product?,
        part: part?,
        required: 0,
        length,
        width,
        thickness: thickness?,
        cut_length: length + milling.length_allowance + extra,
        cut_width: width + milling.width_allowance,
        species: species?,
        grade: grade?,
        fit,
        glue_up: glue_up?,
        glued: None,
    };
    Some(PartRow { line: row.line, part, pieces: pieces? })
}

/// A yes or a no.
pub fn yes_no(text: &str) -> Option<bool> {
    match text.to_ascii_lowercase().as_str() {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    }
}

/// Adds up the demand of all orders; keeps the parts that somebody wants.
pub fn demanded_parts(orders: &[(u64, Order)], parts: Vec<PartRow>, log: &mut Log) -> Vec<model::Part> {
    let mut wanted: BTreeMap<&str, u64> = BTreeMap::new();
    for (_, order) in orders {
        let sum = wanted.entry(order.product.as_str()).or_insert(0);
        *sum = sum.saturating_add(order.quantity);
    }
    let described: std::collections::BTreeSet<&str> =
        parts.iter().map(|row| row.part.product.as_str()).collect();
    for (line, order) in orders {
        if !described.contains(order.product.as_str()) {
            let what = format!("the product {} is ordered but not described", order.product);
            let expected = "at least one row for it in parts.csv".to_string();
            log.fault("orders.csv", Some(*line), Some("product"), FaultKind::Unknown { what, expected });
        }
    }
    let mut demanded = Vec::new();
    for PartRow { line, mut part, pieces } in parts {
        let Some(products) = wanted.get(part.product.as_str()) else { continue };
        part.required = products.saturating_mul(pieces);
        if part.required > MAX_PIECES {
            let kind = FaultKind::Value {
                text: part.required.to_string(),
                expected: format!("at most {MAX_PIECES} pieces of one part over all orders"),
                why: None,
            };
            log.fault("parts.csv", Some(line), Some("pieces"), kind);
            continue;
        }
        demanded.push(part);
    }
    demanded
}
