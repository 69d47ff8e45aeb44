//! `prices/NAME.csv`, `suppliers.csv` and `breaks.csv`: who sells what, and on which terms.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::ToPrimitive;

use super::log::Log;
use super::names::Names;
use super::row::Row;
use super::source::{Source, needed, optional};
use super::table::{Columns, Table};
use crate::job::{Break, FaultKind, MAX_BOARD_LENGTH, MAX_BOARD_WIDTH, Per, PriceLine, Shop, Supplier};
use crate::measure::{Money, Volume};
use crate::trade::Tally;

pub const PRICES: Columns = Columns {
    required: &["species", "quarter", "grade", "width", "length", "price"],
    optional: &["per", "available", "mix", "material", "core", "grain", "real"],
};
pub const SUPPLIERS: Columns =
    Columns { required: &["supplier"], optional: &["delivery", "minimum_order", "tally"] };
pub const BREAKS: Columns = Columns { required: &["supplier", "from_bf", "percent_off"], optional: &[] };
/// Boards of one line that can be had: a larger number is as good as no limit.
const MAX_AVAILABLE: u64 = 1_000_000_000;

/// Reads every price sheet, the terms and the breaks.
pub fn read_suppliers(source: &dyn Source, shop: &Shop, log: &mut Log) -> (Vec<Supplier>, Vec<PriceLine>) {
    let mut suppliers = Vec::new();
    let mut lines = Vec::new();
    for name in dealers(source, log) {
        let file = format!("prices/{name}.csv");
        let supplier = suppliers.len();
        suppliers.push(Supplier::new(&name));
        if let Some(table) = needed(source, &file, &PRICES, log) {
            let read = table.rows().filter_map(|row| read_line(&row, supplier, shop, log)).collect();
            lines.extend(added_up(read, &source.shown(&file), log));
        }
    }
    if let Some(table) = optional(source, "suppliers.csv", &SUPPLIERS, log) {
        read_terms(&table, &mut suppliers, log);
    }
    if let Some(table) = optional(source, "breaks.csv", &BREAKS, log) {
        read_breaks(&table, &mut suppliers, log);
    }
    (suppliers, lines)
}

/// The dealers' names, sorted so that the result does not depend on the file system.
fn dealers(source: &dyn Source, log: &mut Log) -> Vec<String> {
    match source.dealers() {
        Ok(mut names) => {
            names.sort();
            names
        }
        Err(error) => {
            log.fault("prices", None, None, FaultKind::Unreadable(error.to_string()));
            Vec::new()
        }
    }
}

fn read_line(row: &Row<'_>, supplier: usize, shop: &Shop, log: &mut Log) -> Option<PriceLine> {
    let species = row.name("species", log);
    let is_sheet = row.is_sheet(log)?;
    let quarter = row.class(is_sheet, shop.unit, log);
    let sheet = row.sheet(is_sheet, shop.unit, log);
    let grade = row.grade(shop, None, log);
    let width = row.range("width", shop.unit, MAX_BOARD_WIDTH, log);
    let length = row.range("length", shop.unit, MAX_BOARD_LENGTH, log);
    let price = row.money("price", None, log).and_then(|price| {
        if price.is_zero() {
            return row.bad("price", "a price above 0", Some("it is zero".to_string()), log);
        }
        Some(price)
    });
    let per = row.per(if is_sheet { Per::Piece } else { Per::BoardFoot }, log);
    let available = match row.cell("available") {
        "" => Some(None),
        _ => row.whole("available", 0, MAX_AVAILABLE, log).map(Some),
    };
    let mix = match row.cell("mix") {
        "" => Some(Vec::new()),
        text => match text
            .split(';')
            .map(|part| part.trim().parse::<u32>().ok())
            .collect::<Option<Vec<u32>>>()
        {
            Some(weights)
                if weights.iter().any(|weight| *weight > 0) && weights.iter().all(|one| *one <= 10_000) =>
            {
                Some(weights)
            }
            _ => row.bad("mix", "whole weights of equal parts of the width range, such as 1;3;2", None, log),
        },
    };
    let ((width, upper_width), (length, upper_length)) = (width?, length?);
    let upper = (upper_width.is_some() || upper_length.is_some())
        .then(|| (upper_length.unwrap_or(length), upper_width.unwrap_or(width)));
    Some(PriceLine {
        supplier: supplier.into(),
        row: row.line,
        species: species?,
        quarter: quarter?,
        grade: grade?,
        sheet: sheet?,
        width,
        length,
        upper,
        mix: mix?,
        price: price?,
        per: per?,
        available: available?,
        drawn: Vec::new(),
        seen: std::sync::Arc::default(),
    })
}

/// Rows alike in all but what is available are one line with the boards of all of them.
fn added_up(read: Vec<PriceLine>, file: &str, log: &mut Log) -> Vec<PriceLine> {
    let mut lines: Vec<PriceLine> = Vec::new();
    let mut known = BTreeMap::new();
    for line in read {
        let sizes = (line.width, line.length, line.upper, line.mix.clone(), line.sheet.clone());
        let key = (line.species.clone(), line.quarter, line.grade, sizes, line.price, line.per.name());
        match known.get(&key) {
            None => {
                known.insert(key, lines.len());
                lines.push(line);
            }
            Some(place) => {
                let first: &mut PriceLine = &mut lines[*place];
                let both = first.available.zip(line.available);
                first.available = both.map(|(one, other)| one.saturating_add(other));
                let (first, row) = (first.row, line.row);
                log.warn(file, format!("rows {first} and {row} are alike: their boards are added up"));
            }
        }
    }
    lines
}

/// The dealer a row names, if a price sheet bears that name.
fn named_supplier(row: &Row<'_>, suppliers: &[Supplier], log: &mut Log) -> Option<usize> {
    let name = row.name("supplier", log)?;
    let known = Names::of(suppliers.iter().map(|supplier| supplier.name.as_str()));
    let what = |name: &str| format!("the supplier {name} has no price sheet");
    let found = row.known("supplier", &known, what, &format!("a file prices/{name}.csv"), log)?;
    suppliers.iter().position(|supplier| supplier.name == found)
}

fn read_terms(table: &Table, suppliers: &mut [Supplier], log: &mut Log) {
    let mut first_rows: Vec<Option<u64>> = vec![None; suppliers.len()];
    for row in table.rows() {
        let found = named_supplier(&row, suppliers, log);
        let delivery = row.money("delivery", Some(Money::ZERO), log);
        let minimum_order = row.money("minimum_order", Some(Money::ZERO), log);
        let rules = "exact, whole-foot or surface-measure";
        let tally = row.choice("tally", Tally::parse, Some(Tally::Exact), rules, log);
        let (Some(place), Some(delivery), Some(minimum_order), Some(tally)) =
            (found, delivery, minimum_order, tally)
        else {
            continue;
        };
        if let Some(first_row) = first_rows[place] {
            let what = format!("the supplier {}", suppliers[place].name);
            row.fault("supplier", FaultKind::Duplicate { what, first_row }, log);
            continue;
        }
        first_rows[place] = Some(row.line);
        let supplier = &mut suppliers[place];
        (supplier.delivery, supplier.minimum_order, supplier.tally) = (delivery, minimum_order, tally);
    }
}

fn read_breaks(table: &Table, suppliers: &mut [Supplier], log: &mut Log) {
    for row in table.rows() {
        let found = named_supplier(&row, suppliers, log);
        let from = row.money("from_bf", None, log);
        let percent = row.money("percent_off", None, log).and_then(|percent| {
            if percent >= Money::cents(10_000) {
                return row.bad("percent_off", "a percentage below 100", None, log);
            }
            Some(percent)
        });
        let (Some(place), Some(from), Some(percent_off)) = (found, from, percent) else { continue };
        suppliers[place].breaks.push(Break { from: board_feet(from), percent_off });
    }
    for supplier in suppliers {
        supplier.breaks.sort_by_key(|step| step.from);
        for pair in supplier.breaks.windows(2) {
            if pair[1].percent_off < pair[0].percent_off || pair[1].from == pair[0].from {
                let kind = FaultKind::NotATable(format!(
                    "the breaks of {} do not rise: more board feet must give at least as much off",
                    supplier.name
                ));
                log.fault("breaks.csv", None, Some("percent_off"), kind);
            }
        }
    }
}

/// A decimal number of board feet as a volume. It has at most four decimals, and a ten-thousandth
/// of a board foot is a whole number of cubic base units, so nothing is lost.
fn board_feet(count: Money) -> Volume {
    let scaled = count.to_ratio() * BigRational::from_integer(BigInt::from(10_000));
    Volume::ten_thousandths_of_board_foot(scaled.to_integer().to_i64().unwrap_or(i64::MAX))
}
