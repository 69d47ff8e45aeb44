//! `parts.csv`: what products are made of.

use std::collections::BTreeMap;

use super::cells::key;
use super::log::Log;
use super::row::Row;
use super::source::{Source, needed};
use super::table::Columns;
use crate::job::{
    Edges, FaultKind, Fit, MAX_PART_LENGTH, MAX_PART_WIDTH, MAX_PIECES, ProductPart, SheetPart, Shop,
};
use crate::measure::Length;
use crate::trade::{Clear, Grade, PartGrain, Quarter};

pub const PARTS: Columns = Columns {
    required: &["product", "part", "pieces", "length", "width", "thickness", "species"],
    optional: &[
        "grade", "fit", "glue_up", "clear", "captured", "match", "material", "core", "grain", "edges",
        "lipping",
    ],
};

/// Reads the parts of every product.
pub fn read_parts(source: &dyn Source, shop: &Shop, log: &mut Log) -> Vec<ProductPart> {
    let Some(table) = needed(source, "parts.csv", &PARTS, log) else { return Vec::new() };
    let mut seen: BTreeMap<(String, String), u64> = BTreeMap::new();
    let mut parts = Vec::new();
    for row in table.rows() {
        let Some(part) = read_part(&row, shop, log) else {
            log.unread.extend(["product", "part"].map(|column| key(row.cell(column))));
            continue;
        };
        let key = (part.product.clone(), part.part.clone());
        match seen.get(&key) {
            Some(first_row) => {
                let what = format!("the part {} of {}", key.1, key.0);
                row.fault("part", FaultKind::Duplicate { what, first_row: *first_row }, log);
            }
            None => {
                seen.insert(key, row.line);
                parts.push(part);
            }
        }
    }
    parts
}

fn read_part(row: &Row<'_>, shop: &Shop, log: &mut Log) -> Option<ProductPart> {
    let product = row.name("product", log);
    let part = row.name("part", log);
    let pieces = row.whole("pieces", 1, MAX_PIECES, log);
    let length = row.length("length", shop.unit, MAX_PART_LENGTH, log);
    let width = row.length("width", shop.unit, MAX_PART_WIDTH, log);
    let thickness = row.length("thickness", shop.unit, Quarter::quarters(32).rough(), log);
    let species = row.name("species", log);
    let is_sheet = row.is_sheet(log)?;
    let lowest = if is_sheet { Grade::OneFace } else { Grade::C3a };
    let grade = row.grade(shop, Some(lowest), log);
    let sheet = read_sheet_part(row, is_sheet, shop, log);
    let fits = [Fit::Stop, Fit::Creep, Fit::ToWork];
    let parse_fit = |text: &str| fits.into_iter().find(|fit| fit.name().eq_ignore_ascii_case(text));
    let fit = row.choice("fit", parse_fit, Some(Fit::Stop), "stop, creep or to-work", log);
    let glue_up = row.yes_no("glue_up", false, log);
    let parse_clear =
        |text: &str| Clear::ALL.into_iter().find(|clear| clear.name().eq_ignore_ascii_case(text));
    let clear = row.choice("clear", parse_clear, Some(Clear::Yes), "yes, face or no", log);
    let captured = match row.cell("captured") {
        "" | "no" => Some(None),
        text => match Length::parse(text, shop.unit) {
            Ok(room) if room <= MAX_PART_WIDTH => Some(Some(room)),
            _ => row.bad(
                "captured",
                "the room across its width in the frame, such as 1/8, or nothing",
                None,
                log,
            ),
        },
    };
    let sizes = [length?, width?, thickness?];
    let mut described = ProductPart::new(&product?, &part?, pieces?, sizes, &species?);
    (described.grade, described.fit, described.glue_up) = (grade?, fit?, glue_up?);
    (described.clear, described.captured, described.sheet) = (clear?, captured?, sheet?);
    described.matched = row.cell("match").to_string();
    described.row = row.line;
    Some(described)
}

/// What a part of a sheet has beyond its sizes; nothing for one of lumber.
fn read_sheet_part(row: &Row<'_>, is_sheet: bool, shop: &Shop, log: &mut Log) -> Option<Option<SheetPart>> {
    if !is_sheet {
        for column in ["core", "grain", "edges", "lipping"] {
            if !row.cell(column).is_empty() {
                let expected = "nothing, or sheet as its material";
                return row.bad(column, expected, Some("the part is of lumber".to_string()), log);
            }
        }
        return Some(None);
    }
    let ways = "along, across or any: how the grain runs on the part";
    let grain = row.choice("grain", PartGrain::parse, Some(PartGrain::Along), ways, log);
    let edges = read_edges(row.cell("edges"), shop);
    let edges = match edges {
        Some(edges) => Some(edges),
        None => row.bad(
            "edges",
            "one thickness for all edges, or four parted by ; (front; back; left; right), 0 for none",
            None,
            log,
        ),
    };
    let [core, lipping] = ["core", "lipping"].map(|column| row.cell(column).to_string());
    let sheet = SheetPart { core, grain: grain?, edges: edges?, lipping };
    if !sheet.lipping.is_empty() && sheet.edges == Edges::default() {
        let why = "the part has no edges: how thick is the lipping?".to_string();
        return row.bad("lipping", "nothing, or edges with their thickness", Some(why), log);
    }
    Some(Some(sheet))
}

fn read_edges(text: &str, shop: &Shop) -> Option<Edges> {
    let one = |text: &str| match text.trim() {
        "" | "0" | "-" => Some(Length::ZERO),
        text => Length::parse(text, shop.unit).ok().filter(|size| *size <= Length::inches(4)),
    };
    let sizes: Vec<Length> = text.split(';').map(one).collect::<Option<_>>()?;
    match sizes[..] {
        [all] => Some(Edges([all; 4])),
        [front, back, left, right] => Some(Edges([front, back, left, right])),
        _ => None,
    }
}
