//! Places on a drawing: the scale of a board, the boxes of what it gives, and numbers of cuts that lie on nothing else.

use serde::Serialize;

use super::steps::alike;
use crate::measure::{Length, Unit};
use crate::plan::{Board, CutKind, SawCut};

/// Width of a page in the units of its drawings.
pub const PAGE_WIDTH: f64 = 1000.0;

/// A sheet is drawn no higher than this, so that two find room on a page.
const HIGHEST_SHEET: f64 = 340.0;

/// The same of a board, so that three or four do.
const HIGHEST_BOARD: f64 = 120.0;

/// Height in which a number or a letter has room.
pub const LEAST_HEIGHT: f64 = 26.0;

/// Widths are drawn larger than lengths by no more than this.
const MOST_STRETCH: f64 = 3.0;

/// Width of a letter of a label in the widest of common fonts (DejaVu Serif at 20 px, from its metrics): the page
/// cannot know what fonts it will meet.
pub const LETTER: f64 = 12.0;

/// The same of a digit in the number of a cut (DejaVu Sans Bold at 18 px).
const DIGIT: f64 = 12.6;

/// Half the height of either.
const HALF_LINE: f64 = 10.0;

/// Width in a piece that the numbers of cuts may take.
pub const ROOM_OF_NUMBERS: f64 = 60.0;

#[derive(Serialize)]
pub struct BoxView {
    pub x: f64,
    pub y: f64,
    pub width: f64,
    pub height: f64,
    pub class: &'static str,
    pub label: String,
    /// The middle of the label.
    pub label_x: f64,
    pub label_y: f64,
    pub title: String,
}

impl BoxView {
    /// A box with its label in the middle.
    pub fn new(place: (f64, f64, f64, f64), class: &'static str, label: String, title: String) -> BoxView {
        let (x, y, width, height) = place;
        let (label_x, label_y) = (hundredths(x + width / 2.0), hundredths(y + height / 2.0));
        BoxView { x, y, width, height, class, label, label_x, label_y, title }
    }
}

/// The number of a cut, beside it on what it frees.
#[derive(Serialize)]
pub struct NumberView {
    pub x: f64,
    pub y: f64,
    pub class: &'static str,
    pub number: u32,
}

/// From the board's measures to the drawing's.
pub struct Scale {
    pub per_unit: f64,
    pub stretch: f64,
    pub width: f64,
    pub height: f64,
    pub unit: Unit,
}

impl Scale {
    pub fn of(board: &Board, unit: Unit) -> Scale {
        let (length, across) = (board.length.to_f64(unit), board.width.to_f64(unit));
        let highest = if board.sheet.is_some() { HIGHEST_SHEET } else { HIGHEST_BOARD };
        let width = PAGE_WIDTH.min(highest * length / across);
        let per_unit = width / length;
        let narrowest = board.pieces.iter().map(|piece| piece.width).min().unwrap_or(board.width);
        let stretch = LEAST_HEIGHT / (narrowest.to_f64(unit) * per_unit).max(f64::MIN_POSITIVE);
        // A sheet is large enough both ways.
        let most = if board.sheet.is_some() { 1.0 } else { MOST_STRETCH };
        let stretch = stretch.clamp(1.0, most);
        Scale { per_unit, stretch, width, height: across * per_unit * stretch, unit }
    }

    pub fn place(&self, x: Length, y: Length, length: Length, width: Length) -> (f64, f64, f64, f64) {
        let (left, wide) = (x.to_f64(self.unit) * self.per_unit, length.to_f64(self.unit) * self.per_unit);
        let high = width.to_f64(self.unit) * self.per_unit * self.stretch;
        // The lower edge is drawn at the bottom.
        let top = self.height - y.to_f64(self.unit) * self.per_unit * self.stretch - high;
        (hundredths(left), hundredths(top), hundredths(wide), hundredths(high))
    }
}

pub fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// The numbers of the cuts on a drawing. Cuts alike that follow each other share one, as in the flow. It
/// stands on what one of them frees, where there is room beside all cuts, other numbers and letters. A part's
/// letter may be covered only if another piece of the part still shows it. A number without room is left to the flow.
pub fn numbers(board: &Board, scale: &Scale, boxes: &mut [BoxView]) -> Vec<NumberView> {
    let lines: Vec<Extent> = board.cuts.iter().map(|cut| Extent::of_cut(cut, scale)).collect();
    let mut numbers: Vec<NumberView> = Vec::new();
    for cuts in alike(board).filter(|cuts| cuts[0].kind != CutKind::Trim) {
        let number = cuts[0].step;
        let mut places: Vec<NumberView> = cuts
            .iter()
            .flat_map(|cut| beside(cut, scale))
            .map(|place| NumberView { number, ..place })
            .collect();
        let labels: Vec<Extent> =
            boxes.iter().filter(|boxed| !boxed.label.is_empty()).map(Extent::of_label).collect();
        let taken: Vec<Extent> = numbers.iter().map(Extent::of_number).collect();
        let is_free = |place: &NumberView, things: &[Extent]| {
            let extent = Extent::of_number(place);
            things.iter().all(|other| !extent.meets(other))
        };
        let off_lines = |place: &NumberView| {
            let extent = Extent::of_number(place).without_air();
            lines.iter().all(|line| !extent.meets(line))
        };
        let best = places
            .iter()
            .position(|place| is_free(place, &taken) && off_lines(place) && is_free(place, &labels))
            .or_else(|| places.iter().position(|place| is_free(place, &taken) && off_lines(place)));
        // Between the smallest pieces there may be no room: a number on a line could not be read.
        numbers.extend(best.map(|best| places.swap_remove(best)));
    }
    for place in 0..boxes.len() {
        if boxes[place].label.is_empty() {
            continue;
        }
        let covers = |boxed: &BoxView| {
            let extent = Extent::of_label(boxed);
            numbers.iter().any(|number| Extent::of_number(number).meets(&extent))
        };
        let is_covered = covers(&boxes[place]);
        let letter = |boxed: &BoxView| boxed.label.split(':').next().unwrap_or_default().to_string();
        let own = letter(&boxes[place]);
        let again = boxes.iter().enumerate().any(|(other, boxed)| other != place && letter(boxed) == own);
        if is_covered && again {
            boxes[place].label.clear();
        } else if is_covered {
            let boxed = &mut boxes[place];
            let (x, y) = (boxed.label_x, boxed.label_y);
            let (left, right) = (boxed.x + HALF_LINE, boxed.x + boxed.width - HALF_LINE);
            let (top, bottom) = (boxed.y + HALF_LINE, boxed.y + boxed.height - HALF_LINE);
            for (aside, above) in [(left, y), (right, y), (x, top), (x, bottom), (left, top), (right, bottom)]
            {
                (boxed.label_x, boxed.label_y) = (hundredths(aside), hundredths(above));
                if !covers(boxed) {
                    break;
                }
            }
        }
    }
    numbers
}

/// Where along a cut its number may stand: from one end to the other, the ends first.
const ALONG: [f64; 7] = [0.0, 1.0, 0.5, 0.25, 0.75, 0.125, 0.875];

/// Places along a cut, on the side that it frees.
fn beside(cut: &SawCut, scale: &Scale) -> Vec<NumberView> {
    let (x, y, width, height) = scale.place(cut.x0, cut.y0, cut.x1 - cut.x0, cut.y1 - cut.y0);
    let place = |x: f64, y: f64, class: &'static str| {
        let (x, y) = (hundredths(x), hundredths(y));
        NumberView { x, y, class, number: cut.step }
    };
    let along = ALONG.iter();
    match cut.kind {
        CutKind::Rip => {
            let y = y + height + 12.0;
            let at = |share: &f64| match *share {
                1.0 => place(x + width - 5.0, y, "step before"),
                share => place(x + 5.0 + share * (width - 10.0), y, "step"),
            };
            along.map(at).collect()
        }
        _ => {
            // From the lower end up.
            let at = |share: &f64| place(x - 4.0, y + height - 12.0 - share * (height - 24.0), "step before");
            along.map(at).collect()
        }
    }
}

/// What a text of a drawing covers: left, right, top and bottom.
struct Extent([f64; 4]);

impl Extent {
    pub fn of_label(boxed: &BoxView) -> Extent {
        let (x, y) = (boxed.label_x, boxed.label_y);
        let half = boxed.label.chars().count() as f64 * LETTER / 2.0;
        Extent([x - half, x + half, y - HALF_LINE, y + HALF_LINE])
    }

    pub fn of_cut(cut: &SawCut, scale: &Scale) -> Extent {
        let (x, y, width, height) = scale.place(cut.x0, cut.y0, cut.x1 - cut.x0, cut.y1 - cut.y0);
        Extent([x, x + width, y, y + height])
    }

    /// The ink of a text: a digit is lower than its line.
    pub fn without_air(&self) -> Extent {
        let Extent([left, right, top, bottom]) = *self;
        Extent([left + 1.0, right - 1.0, top + 2.0, bottom - 2.0])
    }

    pub fn of_number(number: &NumberView) -> Extent {
        let width = number.number.to_string().len() as f64 * DIGIT;
        let left = if number.class == "step" { number.x } else { number.x - width };
        Extent([left, left + width, number.y - HALF_LINE, number.y + HALF_LINE])
    }

    pub fn meets(&self, other: &Extent) -> bool {
        let (Extent([left, right, top, bottom]), Extent(other)) = (self, other);
        *left < other[1] && other[0] < *right && *top < other[3] && other[2] < *bottom
    }
}
