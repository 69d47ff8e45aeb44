//! `holes.csv` and `finish.csv`: the work after the saw. Both files are optional.

use std::collections::BTreeMap;

use super::log::Log;
use super::names::{Found, Names};
use super::row::Row;
use super::source::{Source, optional};
use super::table::Columns;
use crate::job::{FaultKind, Finish, Hole, HoleKind, Plug, ProductPart, Shop, WorkAfter};
use crate::measure::{Length, Money, Unit};
use crate::trade::abrasives::Surface;
use crate::trade::drilling::{MOST_GAUGE, Screw, clearance_bit, plug_depth};
use crate::trade::finish::{Faces, Film};

pub const HOLES: Columns = Columns {
    required: &["product", "part", "holes"],
    optional: &["kind", "gauge", "screw", "diameter", "depth", "countersink", "plug", "plug_depth"],
};
pub const FINISHES: Columns =
    Columns { required: &["product", "finish"], optional: &["surface", "coats", "coverage", "finish_faces"] };

/// Holes in one piece: more is a typing error.
const MOST_HOLES: u64 = 10_000;
/// Widest hole that is read.
const WIDEST_HOLE: Length = Length::inches(12);
/// Thickest metric screw that is read.
const THICKEST_SCREW: Length = Length::micrometres(20_000);
/// Deepest hole that is read.
const DEEPEST_HOLE: Length = Length::inches(100);
/// Coats that are read at most.
const MOST_COATS: u64 = 20;

/// Reads what is to be done after the saw, for products and parts that `parts.csv` describes.
pub fn read_work(source: &dyn Source, shop: &Shop, parts: &[ProductPart], log: &mut Log) -> WorkAfter {
    let mut parts_of: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for part in parts {
        parts_of.entry(&part.product).or_default().push(&part.part);
    }
    let names = Names::of(parts_of.keys().copied());
    let parts_of: BTreeMap<&str, Names<'_>> =
        parts_of.into_iter().map(|(product, parts)| (product, Names::of(parts.into_iter()))).collect();
    let no_parts = Names::default();
    let mut work = WorkAfter::default();
    if let Some(table) = optional(source, "holes.csv", &HOLES, log) {
        for row in table.rows() {
            let Some(hole) = read_hole(&row, shop, log) else { continue };
            let expected = "a part of parts.csv";
            let what =
                |part: &str| format!("the part {part} of {} is drilled but not described", hole.product);
            let product = match names.find(&hole.product) {
                Found::Exact(product) | Found::Alike(product) => product,
                Found::Unknown(_) => hole.product.as_str(),
            };
            let own = parts_of.get(product).unwrap_or(&no_parts);
            if let Some(part) = row.known("part", own, what, expected, log) {
                let (product, part) = (product.to_string(), part.to_string());
                work.holes.push(Hole { product, part, ..hole });
            }
        }
    }
    if let Some(table) = optional(source, "finish.csv", &FINISHES, log) {
        let mut seen: BTreeMap<String, u64> = BTreeMap::new();
        for row in table.rows() {
            let Some(finish) = read_finish(&row, log) else { continue };
            let what = |product: &str| format!("the product {product} is finished but not described");
            let Some(product) = row.known("product", &names, what, "a product of parts.csv", log) else {
                continue;
            };
            if let Some(first_row) = seen.get(product) {
                let what = format!("the finish of {product}");
                row.fault("product", FaultKind::Duplicate { what, first_row: *first_row }, log);
            } else {
                seen.insert(product.to_string(), row.line);
                work.finishes.push(Finish { product: product.to_string(), ..finish });
            }
        }
    }
    work
}

fn read_hole(row: &Row<'_>, shop: &Shop, log: &mut Log) -> Option<Hole> {
    let product = row.name("product", log);
    let part = row.name("part", log);
    let holes = row.whole("holes", 1, MOST_HOLES, log);
    let given = |column: &str| !row.cell(column).is_empty();
    let usual = if given("gauge") || given("screw") { "lead" } else { "plain" };
    let words = ["lead", "clearance", "plain"];
    let word = |text: &str| words.into_iter().find(|word| word.eq_ignore_ascii_case(text));
    let kind = row.choice("kind", word, Some(usual), "lead, clearance or plain", log);
    let kind = match kind {
        Some("plain") => row.length("diameter", shop.unit, WIDEST_HOLE, log).map(HoleKind::Plain),
        Some(kind) => {
            let screw = match given("screw") {
                true => row.length("screw", Unit::Millimetre, THICKEST_SCREW, log).map(Screw::Diameter),
                // At most 24, as read.
                false => {
                    row.whole("gauge", 0, u64::from(MOST_GAUGE), log).map(|gauge| Screw::Gauge(gauge as u8))
                }
            };
            screw.map(if kind == "lead" { HoleKind::Lead } else { HoleKind::Clearance })
        }
        None => None,
    };
    let depth = match given("depth") {
        true => row.length("depth", shop.unit, DEEPEST_HOLE, log).map(Some),
        false => Some(None),
    };
    let countersink = row.yes_no("countersink", false, log);
    let plug = read_plug(row, kind.and_then(HoleKind::screw), shop, log);
    Some(Hole {
        product: product?,
        part: part?,
        holes: holes?,
        kind: kind?,
        depth: depth?,
        countersink: countersink?,
        plug: plug?,
    })
}

/// The plug over a screw's head, which is no wider than the plug.
fn read_plug(row: &Row<'_>, screw: Option<Screw>, shop: &Shop, log: &mut Log) -> Option<Option<Plug>> {
    if row.cell("plug").is_empty() {
        return Some(None);
    }
    let diameter = row.length("plug", shop.unit, WIDEST_HOLE, log)?;
    let depth = match row.cell("plug_depth").is_empty() {
        true => plug_depth(shop.unit),
        false => row.length("plug_depth", shop.unit, DEEPEST_HOLE, log)?,
    };
    let why = match screw {
        None => "there is no screw to cover".to_string(),
        Some(screw) if screw.head() > diameter => {
            format!(
                "the head of the screw is up to {} wide",
                clearance_bit(screw.head(), shop.unit).display(shop.unit)
            )
        }
        Some(_) => return Some(Some(Plug { diameter, depth })),
    };
    row.bad("plug", "the diameter of a plug that covers the head of a screw", Some(why), log)
}

fn read_finish(row: &Row<'_>, log: &mut Log) -> Option<Finish> {
    let product = row.name("product", log);
    let film = |text: &str| Film::ALL.into_iter().find(|film| film.name().eq_ignore_ascii_case(text));
    let film = row.choice("finish", film, None, "film or oil", log);
    let surface =
        |text: &str| Surface::ALL.into_iter().find(|surface| surface.name().eq_ignore_ascii_case(text));
    let surface = row.choice("surface", surface, Some(Surface::default()), "rough, machined or smooth", log);
    let coats = row.whole_or("coats", 2, 1..=MOST_COATS, log);
    let faces = |text: &str| Faces::ALL.into_iter().find(|faces| faces.name().eq_ignore_ascii_case(text));
    let faces = row.choice("finish_faces", faces, Some(Faces::default()), "all, show or top", log);
    let coverage = match row.cell("coverage") {
        "" => Some(None),
        text => match Money::parse(text) {
            Ok(coverage) if !coverage.is_zero() => Some(Some(coverage)),
            _ => row.bad("coverage", "square feet a quart (or square metres a litre) above 0", None, log),
        },
    };
    Some(Finish {
        product: product?,
        film: film?,
        surface: surface?,
        coats: coats? as u32,
        faces: faces?,
        coverage: coverage?,
    })
}
