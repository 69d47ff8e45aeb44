//! `labels.html`: labels of the finished parts on sheets of labels, each with its text as a QR code (ISO/IEC 18004).

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use qrcode::{Color, EcLevel, QrCode};
use serde::Serialize;

use super::page::render;
use super::sheets::{NextStep, shown, title};
use super::{RenderError, Report};
use crate::index::{PartIndex, TiVec};
use crate::job::{Job, LabelSheet, Order, Part};
use crate::measure::Unit;
use crate::plan::Plan;
use crate::planning::Checked;
use crate::trade::Clear;

/// What one label is stuck on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LabelEach {
    /// Every finished part.
    Piece,
    /// The pile of a part, for all orders.
    #[default]
    Pile,
    /// The pile of a part of one order.
    Order,
}

/// Labels of a plan's parts.
pub struct Labels<'p>(pub &'p Checked, pub LabelEach);

const TEMPLATE: &str = include_str!("labels.html");

/// Labels above which a page would be slow to open.
const MOST_LABELS: usize = 10_000;
/// Codes of a page: each is a drawing, and a night of thousands of parts would not open any more.
const MOST_CODES: usize = 500;

#[derive(Serialize)]
struct LabelPage {
    title: String,
    each: &'static str,
    sheet: SheetView,
    codes: Vec<Code>,
    labels: Vec<LabelView>,
    left_out: usize,
    without_code: usize,
}

/// A sheet of labels, with its sizes as a style sheet writes them.
#[derive(Serialize)]
struct SheetView {
    columns: u32,
    rows: u32,
    width: String,
    height: String,
    paper: [String; 2],
}

#[derive(Serialize)]
struct LabelView {
    order: String,
    product: String,
    part: String,
    /// "3 of 8", or how many there are.
    count: String,
    size: String,
    species: String,
    /// Which face shows, and what comes next.
    note: String,
    /// Index into the codes.
    code: Option<usize>,
}

impl Report for Labels<'_> {
    fn file_name(&self) -> &'static str {
        "labels.html"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let (plan, job) = (self.0.plan(), self.0.job());
        let mut made = LabelsMade::new(plan, job);
        match self.1 {
            LabelEach::Pile => job.parts.iter_enumerated().for_each(|(index, part)| {
                made.add(index, "", part.required, None);
            }),
            LabelEach::Order => made.by_order(|made, index, order, count| {
                made.add(index, order, count, None);
            }),
            LabelEach::Piece => made.by_order(|made, index, order, count| {
                for number in 1..=count {
                    if made.labels.len() >= MOST_LABELS {
                        made.left_out += usize::try_from(count - number + 1).unwrap_or(usize::MAX);
                        break;
                    }
                    made.add(index, order, count, Some(number));
                }
            }),
        }
        let page = LabelPage {
            title: title(job),
            each: match self.1 {
                LabelEach::Piece => "one for every part",
                LabelEach::Pile => "one for the pile of each part",
                LabelEach::Order => "one for the pile of each part of an order",
            },
            sheet: SheetView::of(&job.shop.labels),
            without_code: made.labels.iter().filter(|label| label.code.is_none()).count(),
            codes: made.codes,
            labels: made.labels,
            left_out: made.left_out,
        };
        render(TEMPLATE, page)
    }
}

impl SheetView {
    fn of(sheet: &LabelSheet) -> SheetView {
        let inches = |length: crate::measure::Length| format!("{}in", length.to_f64(Unit::Inch));
        SheetView {
            columns: sheet.columns,
            rows: sheet.rows,
            width: inches(sheet.width),
            height: inches(sheet.height),
            paper: sheet.paper.size().map(inches),
        }
    }
}

/// The labels made so far.
struct LabelsMade<'p> {
    job: &'p Job,
    /// By part, what is done to its pieces next.
    next: TiVec<PartIndex, NextStep>,
    codes: Vec<Code>,
    labels: Vec<LabelView>,
    left_out: usize,
}

impl<'p> LabelsMade<'p> {
    fn new(plan: &'p Plan, job: &'p Job) -> LabelsMade<'p> {
        let pieces = plan.boards.iter().flat_map(|board| &board.pieces);
        let resawn: BTreeSet<PartIndex> =
            pieces.filter(|piece| piece.blanks > 1).map(|piece| piece.part).collect();
        let holes = plan.work.drilling.iter();
        let drilled: BTreeSet<(&str, &str)> =
            holes.map(|hole| (hole.product.as_str(), hole.part.as_str())).collect();
        let next = |(index, part): (PartIndex, &Part)| {
            let is_drilled = drilled.contains(&(part.product.as_str(), part.part.as_str()));
            NextStep::of(part, resawn.contains(&index), is_drilled)
        };
        let next = job.parts.iter_enumerated().map(next).collect();
        LabelsMade { job, next, codes: Vec::new(), labels: Vec::new(), left_out: 0 }
    }

    /// Every part of every order, with how many the order has of it. Orders are served by date, then as they stand.
    fn by_order(&mut self, mut each: impl FnMut(&mut Self, PartIndex, &str, u64)) {
        let job = self.job;
        let mut wanted: BTreeMap<&str, u64> = BTreeMap::new();
        for order in &job.orders {
            *wanted.entry(&order.product).or_insert(0) += order.quantity;
        }
        let mut orders: Vec<&Order> = job.orders.iter().collect();
        orders.sort_by_key(|order| order.turn());
        let mut left: TiVec<PartIndex, u64> = job.parts.iter().map(|part| part.required).collect();
        for order in orders {
            for (index, part) in job.parts.iter_enumerated().filter(|(_, part)| part.product == order.product)
            {
                let in_one = part.required.div_ceil(wanted[order.product.as_str()].max(1));
                let count = left[index].min(in_one * order.quantity);
                left[index] -= count;
                each(self, index, &order.order, count);
            }
        }
    }

    fn add(&mut self, index: PartIndex, order: &str, count: u64, number: Option<u64>) {
        let unit = self.job.shop.unit;
        if count == 0 {
            return;
        }
        if self.labels.len() >= MOST_LABELS {
            self.left_out += 1;
            return;
        }
        let part = &self.job.parts[index];
        let counted = match (number, count) {
            (Some(number), _) => format!("{number} of {count}"),
            (None, 1) => "1 piece".to_string(),
            (None, many) => format!("{many} pieces"),
        };
        // Pieces of one order and part carry one code, which is drawn once.
        let again = number.is_some_and(|number| number > 1);
        let code = if again {
            self.labels.last().and_then(|label| label.code)
        } else if self.codes.len() < MOST_CODES {
            code(&label_text(part, order, count, unit)).map(|code| {
                self.codes.push(code);
                self.codes.len() - 1
            })
        } else {
            None
        };
        let face = match part.clear {
            Clear::No => "either face up",
            Clear::Yes | Clear::Face => "better face up",
        };
        let sizes = [part.length, part.width, part.thickness].map(|length| shown(length, unit));
        self.labels.push(LabelView {
            order: order.to_string(),
            product: part.product.clone(),
            part: part.part.clone(),
            count: counted,
            size: sizes.join(" x "),
            species: part.species.clone(),
            note: format!("{face}; next: {}", self.next[index].words()),
            code,
        });
    }
}

/// What a label's code says: order, product, part, pieces, finished size and species.
fn label_text(part: &Part, order: &str, pieces: u64, unit: Unit) -> String {
    let size = [part.length, part.width, part.thickness].map(|length| length.display(unit).to_string());
    let order = if order.is_empty() { String::new() } else { format!("{order}; ") };
    let pieces = if pieces == 1 { "1 piece".to_string() } else { format!("{pieces} pieces") };
    format!(
        "{order}{}; {}; {pieces}; {} {}; {}",
        part.product,
        part.part,
        size.join(" x "),
        unit.name(),
        part.species
    )
}

/// Light modules around a code (ISO/IEC 18004).
const QUIET: usize = 4;

/// A code as a drawing.
#[derive(Serialize)]
struct Code {
    /// Modules on a side, with the light ones around.
    side: usize,
    strokes: String,
}

/// The code of a text; `None` if the text is longer than a code can hold.
fn code(text: &str) -> Option<Code> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M).ok()?;
    let side = code.width() + 2 * QUIET;
    let mut strokes = String::new();
    for (row, modules) in code.to_colors().chunks(code.width()).enumerate() {
        // One stroke for dark modules side by side: a page has a code for every part.
        let mut column = 0;
        for run in modules.chunk_by(|one, other| one == other) {
            if run[0] == Color::Dark {
                // A text takes whatever is written to it.
                let _ = write!(strokes, "M{} {}.5h{}", column + QUIET, row + QUIET, run.len());
            }
            column += run.len();
        }
    }
    Some(Code { side, strokes })
}

#[cfg(test)]
mod tests {
    use super::*;
    /// Read back by another library, from its strokes.
    #[test]
    fn a_label_s_code_says_what_the_label_says() {
        let text = "hall bench; leg; 16 pieces; 16 3/4 x 2 1/4 x 1 1/2 in; red oak <&\"' ä";
        let Code { side, strokes } = code(text).unwrap();
        let mut dark = vec![false; side * side];
        for stroke in strokes.split('M').skip(1) {
            let (column, rest) = stroke.split_once(' ').unwrap();
            let (row, length) = rest.split_once(".5h").unwrap();
            let number = |text: &str| text.parse::<usize>().unwrap();
            let first = number(row) * side + number(column);
            dark[first..first + number(length)].fill(true);
        }
        let scale = 4;
        let mut image = rqrr::PreparedImage::prepare_from_greyscale(side * scale, side * scale, |x, y| {
            if dark[y / scale * side + x / scale] { 0 } else { 255 }
        });
        let grids = image.detect_grids();
        assert_eq!(grids.len(), 1);
        assert_eq!(grids[0].decode().unwrap().1, text);
    }
}
