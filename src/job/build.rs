//! How a valid job is made of its descriptions.

use std::collections::{BTreeMap, BTreeSet};

use num_bigint::BigInt;
use num_rational::BigRational;

use super::blank::{Blank, Make};
use super::drawn::draw_boards;
use super::fault::{Fault, FaultKind, JobError};
use super::glue::glue_what_no_board_gives;
use super::lipping::lippings;
use super::model::Job;
use super::rolls::EdgingRoll;
use super::shop::{Shop, WoodDefects};
use super::stock::{PriceLine, RackBoard, Supplier};
use super::wanted::{Order, Part, ProductPart, WorkAfter};
use crate::measure::{Length, Money, Overflow};
use crate::trade::same_species;

/// Pieces of one part over all orders: more is a typing error, and counts must stay exact.
pub const MAX_PIECES: u64 = 1_000_000;
/// Blanks of all parts together, so that counts of pieces fit 32 bits everywhere.
const MOST_BLANKS: u64 = 1_000_000_000;
/// Parts, price lines or rack boards that one plan takes at most: each is a row or a table of the solver,
/// whose memory goes with their square.
pub const MOST_AT_ONCE: usize = 20_000;
/// Longest board that is read. No tree gives it; one-dimensional benchmark sets with capacities of
/// thousands of units do use such lengths, and a 900-ft board is refused.
pub const MAX_BOARD_LENGTH: Length = Length::inches(10_000);
/// Widest board that is read.
pub const MAX_BOARD_WIDTH: Length = Length::inches(1_000);
/// Longest part that is read.
pub const MAX_PART_LENGTH: Length = MAX_BOARD_LENGTH;
/// Widest part that is read.
pub const MAX_PART_WIDTH: Length = MAX_BOARD_WIDTH;

/// Everything that a job is made of, not yet validated.
#[derive(Debug, Clone, Default)]
pub struct Draft {
    /// The shop's settings.
    pub shop: Shop,
    /// Order lines.
    pub orders: Vec<Order>,
    /// The parts of products, ordered or not.
    pub parts: Vec<ProductPart>,
    /// Dealers.
    pub suppliers: Vec<Supplier>,
    /// Price lines of those dealers.
    pub lines: Vec<PriceLine>,
    /// Boards and offcuts on hand.
    pub rack: Vec<RackBoard>,
    /// Boards that the shop has seen, which stand for those to come.
    pub seen: Vec<RackBoard>,
    /// What is done to the pieces after the saw.
    pub work: WorkAfter,
    /// Edging that can be bought.
    pub rolls: Vec<EdgingRoll>,
}

impl Job {
    /// Adds up the orders, decides what is sawn for each part, and validates the whole.
    ///
    /// # Errors
    /// Every fault at once. Parts that no board can yield are none: [`Job::shortfalls`] tells them.
    pub fn try_new(draft: Draft) -> Result<Job, JobError> {
        let draft = draft.with_lippings();
        let mut faults = draft.faults();
        let parts = demanded(&draft, &mut faults);
        let Draft { shop, orders, suppliers, lines, rack, seen, work, rolls, .. } = draft;
        let mut job = Job {
            shop,
            orders,
            parts: parts.into(),
            suppliers: suppliers.into(),
            lines: lines.into(),
            rack: rack.into(),
            work,
            rolls,
            warnings: Vec::new(),
            left_out: Vec::new(),
        };
        if faults.is_empty() {
            if job.shop.wood.defects == WoodDefects::ByGrade {
                draw_boards(&mut job, &seen);
            }
            glue_what_no_board_gives(&mut job);
            faults.extend(job.too_many_blanks());
        }
        if faults.is_empty() { Ok(job) } else { Err(JobError::Faults { faults, warnings: Vec::new() }) }
    }

    /// The same job with so many of each part wanted, whatever its orders say.
    ///
    /// # Errors
    /// If more is wanted than can be counted on.
    pub fn with_demand(&self, required: impl Fn(&Part) -> u64) -> Result<Job, JobError> {
        let mut job = self.clone();
        let mut faults = Vec::new();
        for part in &mut job.parts {
            part.required = required(part);
            faults.extend(too_many_pieces(&part.product, &part.part, part.required, 0));
        }
        faults.extend(job.too_many_blanks());
        if faults.is_empty() { Ok(job) } else { Err(JobError::Faults { faults, warnings: Vec::new() }) }
    }

    /// The same job with the prices of some lines changed by a percentage, to the four places of a price.
    ///
    /// # Errors
    /// If a price is too large to be held exactly.
    pub fn with_prices_raised(
        &self,
        percent: Money,
        meant: impl Fn(&PriceLine) -> bool,
    ) -> Result<Job, Overflow> {
        let hundred = BigRational::from_integer(BigInt::from(100));
        let share = hundred + percent.to_ratio();
        let mut job = self.clone();
        for line in job.lines.iter_mut().filter(|line| meant(line)) {
            line.price = line.price.in_percent(&share)?;
        }
        Ok(job)
    }

    fn too_many_blanks(&self) -> Option<Fault> {
        let all = self.parts.iter().fold(0u64, |sum, part| sum.saturating_add(part.blanks_wanted()));
        (all > MOST_BLANKS).then(|| {
            let what = format!("{all} pieces in all are more than one plan can count");
            let instead = "order fewer products at a time".to_string();
            let kind = FaultKind::TooMany { what, most: MOST_BLANKS as usize, instead };
            Fault { file: "orders.csv".to_string(), row: None, column: None, kind }
        })
    }
}

fn too_many_pieces(product: &str, part: &str, required: u64, row: u64) -> Option<Fault> {
    (required > MAX_PIECES).then(|| Fault {
        file: "parts.csv".to_string(),
        row: (row > 0).then_some(row),
        column: Some("pieces".to_string()),
        kind: FaultKind::Value {
            text: required.to_string(),
            expected: format!("at most {MAX_PIECES} pieces of one part over all orders"),
            why: Some(format!("so many of {product} / {part} are wanted")),
        },
    })
}

/// Adds up the demand of all orders; keeps the parts that somebody wants.
fn demanded(draft: &Draft, faults: &mut Vec<Fault>) -> Vec<Part> {
    let mut wanted: BTreeMap<&str, u64> = BTreeMap::new();
    for order in &draft.orders {
        let sum = wanted.entry(order.product.as_str()).or_insert(0);
        *sum = sum.saturating_add(order.quantity);
    }
    let mut demanded = Vec::new();
    for part in &draft.parts {
        let Some(products) = wanted.get(part.product.as_str()) else { continue };
        let required = products.saturating_mul(part.pieces);
        if let Some(fault) = too_many_pieces(&part.product, &part.part, required, part.row) {
            faults.push(fault);
            continue;
        }
        let sizes = [part.length, part.width, part.thickness];
        demanded.push(Part {
            product: part.product.clone(),
            part: part.part.clone(),
            required,
            length: part.length,
            width: part.width,
            thickness: part.thickness,
            species: part.species.clone(),
            grade: part.grade,
            sheet: part.sheet.clone(),
            fit: part.fit,
            glue_up: part.glue_up,
            clear: part.clear,
            captured: part.captured,
            matched: part.matched.clone(),
            blank: Blank::new(&draft.shop, Make::Whole, part.fit, part.sheet.as_ref(), sizes),
        });
    }
    demanded
}

impl Draft {
    /// With the strips of solid wood that cover edges as parts of their own.
    fn with_lippings(mut self) -> Draft {
        let strips: Vec<ProductPart> =
            self.parts.iter().flat_map(|part| lippings(part, &self.shop)).collect();
        self.parts.extend(strips);
        self
    }

    /// What a reader of files has told already is told again here for jobs that are made in memory.
    fn faults(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        let mut fault = |file: &str, row: u64, column: Option<&str>, kind: FaultKind| {
            let (file, column) = (file.to_string(), column.map(str::to_string));
            faults.push(Fault { file, row: (row > 0).then_some(row), column, kind });
        };
        let described: BTreeSet<&str> = self.parts.iter().map(|part| part.product.as_str()).collect();
        for order in &self.orders {
            if !described.contains(order.product.as_str()) {
                let what = format!("the product {} is ordered but not described", order.product);
                let expected = "at least one row for it in parts.csv".to_string();
                fault("orders.csv", order.row, Some("product"), FaultKind::Unknown { what, expected });
            }
        }
        let mut seen: BTreeMap<(&str, &str), u64> = BTreeMap::new();
        for part in &self.parts {
            if let Some(first_row) = seen.insert((&part.product, &part.part), part.row) {
                let what = format!("the part {} of {}", part.part, part.product);
                fault("parts.csv", part.row, Some("part"), FaultKind::Duplicate { what, first_row });
            }
            let limits = [
                ("length", part.length, MAX_PART_LENGTH),
                ("width", part.width, MAX_PART_WIDTH),
                ("thickness", part.thickness, MAX_PART_WIDTH),
            ];
            for (column, size, most) in limits.into_iter().filter(|limit| !is_size(limit.1, limit.2)) {
                fault("parts.csv", part.row, Some(column), not_a_size(size, most, &self.shop));
            }
            if let Some((column, kind)) = wrong_as_a_sheet(part, &self.shop) {
                fault("parts.csv", part.row, Some(column), kind);
            }
            if let Some(kind) = self.matched_with_another_wood(part) {
                fault("parts.csv", part.row, Some("match"), kind);
            }
        }
        for line in &self.lines {
            let Some(supplier) = self.suppliers.get(usize::from(line.supplier)) else {
                let what = format!("the dealer number {}", usize::from(line.supplier));
                let expected = "one of the job's dealers".to_string();
                fault("prices", line.row, None, FaultKind::Unknown { what, expected });
                continue;
            };
            let file = format!("prices/{}.csv", supplier.name);
            for (column, size, most) in
                [("length", line.length, MAX_BOARD_LENGTH), ("width", line.width, MAX_BOARD_WIDTH)]
            {
                if !is_size(size, most) {
                    fault(&file, line.row, Some(column), not_a_size(size, most, &self.shop));
                }
            }
            if let Some((column, kind)) = sold_otherwise(line) {
                fault(&file, line.row, Some(column), kind);
            }
        }
        for board in &self.rack {
            for (column, size, most) in
                [("length", board.length, MAX_BOARD_LENGTH), ("width", board.width, MAX_BOARD_WIDTH)]
            {
                if !is_size(size, most) {
                    fault("rack.csv", 0, Some(column), not_a_size(size, most, &self.shop));
                }
            }
        }
        faults.extend(self.too_many());
        faults
    }

    /// Parts of one set come from one board.
    fn matched_with_another_wood(&self, part: &ProductPart) -> Option<FaultKind> {
        if part.matched.is_empty() {
            return None;
        }
        let same = |other: &&ProductPart| (&other.product, &other.matched) == (&part.product, &part.matched);
        let first = self.parts.iter().find(same)?;
        let is_same_wood =
            same_species(&first.species, &part.species) && first.sheet.is_some() == part.sheet.is_some();
        (!is_same_wood).then(|| FaultKind::Value {
            text: part.matched.clone(),
            expected: "a set whose parts are of one wood".to_string(),
            why: Some(format!("{} of it is {}", first.part, first.species)),
        })
    }

    /// More than one plan can take.
    fn too_many(&self) -> Vec<Fault> {
        let mut faults = Vec::new();
        let wanted: BTreeSet<&str> = self.orders.iter().map(|order| order.product.as_str()).collect();
        let ordered = self.parts.iter().filter(|part| wanted.contains(part.product.as_str()));
        for (file, count, name, instead) in [
            ("parts.csv", ordered.count(), "different parts ordered", "order fewer products at a time"),
            ("prices", self.lines.len(), "price lines", "leave out classes or dealers that no part needs"),
            ("rack.csv", self.rack.len(), "boards", "leave out the boards that no part needs"),
        ] {
            if count > MOST_AT_ONCE {
                let what = format!("{count} {name} are more than one plan can take");
                let kind = FaultKind::TooMany { what, most: MOST_AT_ONCE, instead: instead.to_string() };
                faults.push(Fault { file: file.to_string(), row: None, column: None, kind });
            }
        }
        faults
    }
}

/// What only one of lumber and sheets can be.
fn sold_otherwise(line: &PriceLine) -> Option<(&'static str, FaultKind)> {
    let sheets = line.quarter.is_sheet();
    let value = |text: String, expected: &str| FaultKind::Value {
        text,
        expected: expected.to_string(),
        why: Some(line.quarter.to_string()),
    };
    if line.grade.is_of_sheets() != sheets {
        let expected = if sheets { "both or one: the faces that are good" } else { "a grade of lumber" };
        return Some(("grade", value(line.grade.to_string(), expected)));
    }
    if !line.per.is_for(line.quarter) {
        let expected = if sheets { "piece, ft2 or m2 for sheets" } else { "bf, piece, ft or m3 for lumber" };
        return Some(("per", value(line.per.name().to_string(), expected)));
    }
    if sheets && line.upper.is_some() {
        return Some(("width", value("a range".to_string(), "one size: sheets are not random")));
    }
    None
}

/// What a part of a sheet cannot be.
fn wrong_as_a_sheet(part: &ProductPart, shop: &Shop) -> Option<(&'static str, FaultKind)> {
    let value = |text: String, expected: &str, why: &str| {
        let why = (!why.is_empty()).then(|| why.to_string());
        FaultKind::Value { text, expected: expected.to_string(), why }
    };
    let Some(sheet) = &part.sheet else {
        let lumber = !part.grade.is_of_sheets();
        return (!lumber).then(|| ("grade", value(part.grade.to_string(), "a grade of lumber", "")));
    };
    if !part.grade.is_of_sheets() {
        let expected = "both or one: the faces that must be good";
        return Some(("grade", value(part.grade.to_string(), expected, "a part of a sheet")));
    }
    if part.glue_up {
        let expected = "no: a part of a sheet is not glued from strips";
        return Some(("glue_up", value("yes".to_string(), expected, "")));
    }
    if sheet.edges.along() >= part.length || sheet.edges.across() >= part.width {
        let sizes = sheet.edges.0.map(|edge| edge.display(shop.unit).to_string()).join("; ");
        return Some(("edges", value(sizes, "edges thinner than the part", "nothing is left of the sheet")));
    }
    None
}

fn is_size(size: Length, most: Length) -> bool {
    size > Length::ZERO && size <= most
}

fn not_a_size(size: Length, most: Length, shop: &Shop) -> FaultKind {
    FaultKind::Value {
        text: size.display(shop.unit).to_string(),
        expected: format!("a length above 0 and up to {}", most.display(shop.unit)),
        why: None,
    }
}
