//! Boards as the person at the saw meets them: a drawing, the flow of the work, and where the pieces go.

use std::collections::BTreeMap;

use serde::Serialize;

use super::sizes::{long, shown};
use crate::index::{BoardIndex, PartIndex};
use crate::intake::letters;
use crate::job::{Edges, Fit, Job, Part, Station};
use crate::measure::{Length, Unit};
use crate::pattern::Layout;
use crate::plan::{Board, BoardSource, CutKind, Joined, Plan, SawCut, SetupKind};
use crate::trade::{Defect, DefectKind, Grade, Quarter, SheetGrain};

/// Width of a page in the units of its drawings.
const PAGE_WIDTH: f64 = 1000.0;
/// A sheet is drawn no higher than this, so that two find room on a page.
const HIGHEST_SHEET: f64 = 340.0;
/// Height in which a number or a letter has room.
const LEAST_HEIGHT: f64 = 26.0;
/// Widths are drawn larger than lengths by no more than this.
const MOST_STRETCH: f64 = 3.0;
/// Width of a letter of a label.
const LETTER: f64 = 10.0;
/// Width in a piece that the numbers of cuts may take.
const ROOM_OF_NUMBERS: f64 = 60.0;

#[derive(Serialize)]
struct BoxView {
    x: f64,
    y: f64,
    width: f64,
    height: f64,
    class: &'static str,
    label: String,
    /// The middle of the label.
    label_x: f64,
    label_y: f64,
    title: String,
}

impl BoxView {
    /// A box with its label in the middle.
    fn new(place: (f64, f64, f64, f64), class: &'static str, label: String, title: String) -> BoxView {
        let (x, y, width, height) = place;
        let (label_x, label_y) = (hundredths(x + width / 2.0), hundredths(y + height / 2.0));
        BoxView { x, y, width, height, class, label, label_x, label_y, title }
    }
}

/// The number of a cut, beside it on what it frees.
#[derive(Serialize)]
struct NumberView {
    x: f64,
    y: f64,
    class: &'static str,
    number: u32,
}

/// One line of the flow.
#[derive(Serialize)]
struct StepView {
    /// Numbers of the cuts; empty for what is done at other machines.
    numbers: String,
    what: String,
    frees: String,
}

/// Pieces of one part on a board.
#[derive(Serialize)]
struct PieceView {
    letter: String,
    part: String,
    size: String,
    count: usize,
    /// Which defects it may hold, or how it lies on a sheet.
    holds: String,
    next: &'static str,
}

#[derive(Serialize)]
pub struct DrawingView {
    id: String,
    copies: u32,
    /// Sheets that are laid on each other, where that is more than one.
    stacked: Option<u32>,
    drawn: bool,
    from: String,
    layout: &'static str,
    along_with: Option<String>,
    /// Percent of the page that it is wide.
    share: f64,
    width: f64,
    height: f64,
    boxes: Vec<BoxView>,
    numbers: Vec<NumberView>,
    /// What the blade takes, as one outline: a page of many boards stays small.
    kerf: String,
    pieces: Vec<PieceView>,
    steps: Vec<StepView>,
    /// Sizes of the offcuts that are kept.
    kept: Vec<String>,
    /// What it is called.
    is: &'static str,
    /// (cut, parts by letter, length of the wood)
    joined: Vec<(u32, String, String)>,
}

/// From the board's measures to the drawing's.
struct Scale {
    per_unit: f64,
    stretch: f64,
    width: f64,
    height: f64,
    unit: Unit,
}

impl Scale {
    fn of(board: &Board, unit: Unit) -> Scale {
        let (length, across) = (board.length.to_f64(unit), board.width.to_f64(unit));
        let width = match board.sheet {
            Some(_) => PAGE_WIDTH.min(HIGHEST_SHEET * length / across),
            None => PAGE_WIDTH,
        };
        let per_unit = width / length;
        let narrowest = board.pieces.iter().map(|piece| piece.width).min().unwrap_or(board.width);
        let stretch = LEAST_HEIGHT / (narrowest.to_f64(unit) * per_unit).max(f64::MIN_POSITIVE);
        // A sheet is large enough both ways.
        let most = if board.sheet.is_some() { 1.0 } else { MOST_STRETCH };
        let stretch = stretch.clamp(1.0, most);
        Scale { per_unit, stretch, width, height: across * per_unit * stretch, unit }
    }

    fn place(&self, x: Length, y: Length, length: Length, width: Length) -> (f64, f64, f64, f64) {
        let (left, wide) = (x.to_f64(self.unit) * self.per_unit, length.to_f64(self.unit) * self.per_unit);
        let high = width.to_f64(self.unit) * self.per_unit * self.stretch;
        // The lower edge is drawn at the bottom.
        let top = self.height - y.to_f64(self.unit) * self.per_unit * self.stretch - high;
        (hundredths(left), hundredths(top), hundredths(wide), hundredths(high))
    }
}

fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// Boards that a person can hold, and of those that nobody has seen one example a line, with defects if there is one.
pub fn shown_boards(plan: &Plan) -> impl Iterator<Item = &Board> {
    let mut examples: BTreeMap<String, BoardIndex> = BTreeMap::new();
    for (place, board) in plan.boards.iter_enumerated().filter(|(_, board)| board.drawn) {
        let clear = |place: BoardIndex| plan.boards[place].defects.is_empty();
        let label = board.source.label();
        let better = examples.get(&label).is_none_or(|known| clear(*known) && !clear(place));
        if better && !board.pieces.is_empty() {
            examples.insert(label, place);
        }
    }
    let shown: Vec<BoardIndex> = examples.into_values().collect();
    let boards = plan.boards.iter_enumerated();
    boards.filter(move |(place, board)| !board.drawn || shown.contains(place)).map(|(_, board)| board)
}

/// Everything that a page says of a board.
pub fn drawing(plan: &Plan, job: &Job, board: &Board) -> DrawingView {
    let unit = plan.unit;
    let scale = Scale::of(board, unit);
    let mut letters: Vec<PartIndex> = Vec::new();
    for piece in &board.pieces {
        if !letters.contains(&piece.part) {
            letters.push(piece.part);
        }
    }
    let mut kerf = String::new();
    for cut in &board.cuts {
        let (x, y, width, height) = scale.place(cut.x0, cut.y0, cut.x1 - cut.x0, cut.y1 - cut.y0);
        kerf.push_str(&format!("M{x} {y}h{width}v{height}h-{width}z"));
    }
    let kept = board.offcuts.iter().filter(|offcut| offcut.keep);
    let mut boxes = boxes(board, job, &letters, &scale);
    let numbers = numbers(board, &scale, &mut boxes);
    DrawingView {
        id: board.id.clone(),
        copies: board.copies,
        stacked: (board.sheet.is_some() && board.copies > 1 && job.shop.sheet_saw.stack > 1)
            .then(|| job.shop.sheet_saw.stack.min(board.copies)),
        drawn: board.drawn,
        from: source(plan, board),
        layout: match board.layout {
            Layout::RipFirst => "rip first",
            Layout::CrosscutFirst => "crosscut first",
        },
        along_with: board.along_with.clone(),
        width: hundredths(scale.width),
        share: hundredths(scale.width / PAGE_WIDTH * 100.0),
        height: hundredths(scale.height),
        numbers,
        boxes,
        kerf,
        pieces: letters
            .iter()
            .enumerate()
            .map(|(letter, part)| piece_view(plan, job, board, letter, *part))
            .collect(),
        steps: steps(plan, job, board, &letters),
        kept: kept
            .map(|offcut| format!("{} x {}", shown(offcut.length, unit), shown(offcut.width, unit)))
            .collect(),
        is: if board.sheet.is_some() { "Sheet" } else { "Board" },
        joined: joined(plan, board, &letters),
    }
}

fn boxes(board: &Board, job: &Job, letters: &[PartIndex], scale: &Scale) -> Vec<BoxView> {
    let unit = scale.unit;
    let mut boxes = Vec::new();
    let fits = |label: &str, width: f64| label.chars().count() as f64 * LETTER < width - 2.0 * LETTER;
    for piece in &board.pieces {
        let letter = letter_of(letters.iter().position(|part| *part == piece.part).unwrap_or(0));
        let part = &job.parts[piece.part];
        let (x, y, width, height) = scale.place(piece.x, piece.y, piece.length, piece.width);
        let size = format!("{} x {}", piece.length.display(unit), piece.width.display(unit));
        let title = format!("{} / {} {size}", part.product, part.part);
        // A letter is shown in the smallest piece as well: the list beside the drawing goes by it.
        let long = format!("{letter}: {size}");
        let label = if fits(&long, width - ROOM_OF_NUMBERS) { long } else { letter };
        boxes.push(BoxView::new((x, y, width, height), "piece", label, title));
    }
    for offcut in &board.offcuts {
        let (x, y, width, height) = scale.place(offcut.x, offcut.y, offcut.length, offcut.width);
        let (class, what) = if offcut.keep { ("kept", "kept offcut") } else { ("scrap", "scrap") };
        let size = format!("{} x {}", offcut.length.display(unit), offcut.width.display(unit));
        let mut keep = [format!("keep {size}"), "keep".to_string()].into_iter();
        let is_labelled = offcut.keep && height >= LEAST_HEIGHT;
        let label = keep.find(|label| is_labelled && fits(label, width)).unwrap_or_default();
        boxes.push(BoxView::new((x, y, width, height), class, label, format!("{what} {size}")));
    }
    for defect in &board.defects {
        let (x, y, width, height) =
            scale.place(defect.x0, defect.y0, defect.x1 - defect.x0, defect.y1 - defect.y0);
        let title = match defect.kind {
            DefectKind::Unsound => "defect".to_string(),
            kind => format!("{} defect", kind.name()),
        };
        let label = String::new();
        boxes.push(BoxView::new((x, y, width, height), "defect", label, title));
    }
    boxes
}

/// One number for cuts alike that follow each other, as in the flow: on what one of them frees, where there is room
/// beside all cuts, the other numbers and the letters. A letter that a number must cover gives way where another piece of
/// its part has it.
fn numbers(board: &Board, scale: &Scale, boxes: &mut [BoxView]) -> Vec<NumberView> {
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
            .or_else(|| places.iter().position(|place| is_free(place, &taken) && off_lines(place)))
            .or_else(|| places.iter().position(|place| is_free(place, &taken)));
        numbers.push(places.swap_remove(best.unwrap_or(0)));
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
            let (left, right) = (boxed.x + LETTER, boxed.x + boxed.width - LETTER);
            let (top, bottom) = (boxed.y + LETTER, boxed.y + boxed.height - LETTER);
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
    fn of_label(boxed: &BoxView) -> Extent {
        let (x, y) = (boxed.label_x, boxed.label_y);
        let half = boxed.label.chars().count() as f64 * LETTER / 2.0;
        Extent([x - half, x + half, y - LETTER, y + LETTER])
    }

    fn of_cut(cut: &SawCut, scale: &Scale) -> Extent {
        let (x, y, width, height) = scale.place(cut.x0, cut.y0, cut.x1 - cut.x0, cut.y1 - cut.y0);
        Extent([x, x + width, y, y + height])
    }

    /// The ink of a text: a digit is lower than its line.
    fn without_air(&self) -> Extent {
        let Extent([left, right, top, bottom]) = *self;
        Extent([left + 1.0, right - 1.0, top + 2.0, bottom - 2.0])
    }

    fn of_number(number: &NumberView) -> Extent {
        let width = number.number.to_string().len() as f64 * LETTER;
        let left = if number.class == "step" { number.x } else { number.x - width };
        Extent([left, left + width, number.y - LETTER, number.y + LETTER])
    }

    fn meets(&self, other: &Extent) -> bool {
        let (Extent([left, right, top, bottom]), Extent(other)) = (self, other);
        *left < other[1] && other[0] < *right && *top < other[3] && other[2] < *bottom
    }
}

/// What is done to a part's pieces once they are cut.
pub fn next_step(part: &Part, is_resawn: bool, is_drilled: bool) -> &'static str {
    match part.fit {
        _ if is_resawn => "resaw",
        _ if part.blank.make.is_glued() => "glue-up",
        _ if part.sheet.as_ref().is_some_and(|sheet| sheet.edges != Edges::default()) => "edging",
        Fit::Creep => "creep up to the line",
        Fit::ToWork => "mark it from the work",
        Fit::Stop if is_drilled => "drill",
        Fit::Stop => "sand",
    }
}

fn piece_view(plan: &Plan, job: &Job, board: &Board, letter: usize, index: PartIndex) -> PieceView {
    let part = &job.parts[index];
    let of_part = || board.pieces.iter().filter(|piece| piece.part == index);
    let is_drilled =
        plan.work.drilling.iter().any(|hole| (&hole.product, &hole.part) == (&part.product, &part.part));
    let next = next_step(part, of_part().any(|piece| piece.blanks > 1), is_drilled);
    let over = |kind: DefectKind| {
        let of_kind = |defect: &&Defect| defect.kind == kind;
        let meets = |defect: &Defect| {
            of_part().any(|piece| {
                piece.x < defect.x1
                    && defect.x0 < piece.x + piece.length
                    && piece.y < defect.y1
                    && defect.y0 < piece.y + piece.width
            })
        };
        board.defects.iter().filter(of_kind).any(meets)
    };
    // Only where one is there: a person would look for it.
    let defect = match (over(DefectKind::Sound), over(DefectKind::SoundBack)) {
        (false, false) => "",
        (true, _) => ", a sound defect may stay in it",
        (false, true) => ", the better face up: a sound defect stays in the back",
    };
    let (turned, all) = (of_part().filter(|piece| piece.turned).count(), of_part().count());
    let lies = match turned {
        0 => String::new(),
        _ if turned == all => ", its length across the sheet".to_string(),
        some => format!(", {some} of them with the length across the sheet"),
    };
    let holds = format!("{defect}{lies}");
    PieceView {
        holds,
        letter: letter_of(letter),
        part: format!("{} / {}", part.product, part.part),
        size: format!(
            "{} x {}",
            shown(part.blank.cut_length, plan.unit),
            shown(part.blank.cut_width, plan.unit)
        ),
        count: of_part().count(),
        next,
    }
}

/// Which short pieces are milled before which cut.
fn joined(plan: &Plan, board: &Board, letters: &[PartIndex]) -> Vec<(u32, String, String)> {
    let view = |joined: &Joined| {
        let letter = letters.iter().position(|part| *part == joined.part).unwrap_or(0);
        (joined.before_step, letter_of(letter), shown(joined.length, plan.unit))
    };
    board.joined.iter().map(view).collect()
}

/// Does a trim run across the board?
fn is_end_trim(cut: &SawCut, board: &Board) -> bool {
    cut.kind == CutKind::Trim && cut.y0 == Length::ZERO && cut.y1 == board.width
}

/// Cuts alike that follow each other.
fn alike(board: &Board) -> impl Iterator<Item = &[SawCut]> {
    let key = |cut: &SawCut| (cut.kind, cut.setting, is_end_trim(cut, board));
    board.cuts.chunk_by(move |one, other| key(one) == key(other))
}

/// The work on a board in its order: ends, faces, edges, then the cuts. Cuts alike that follow each other are one
/// line.
fn steps(plan: &Plan, job: &Job, board: &Board, letters: &[PartIndex]) -> Vec<StepView> {
    let (unit, sawing, saw) = (plan.unit, job.shop.sawing(board.quarter), &job.shop.saw);
    let mut thicknesses: Vec<Length> = letters
        .iter()
        .filter(|part| board.pieces.iter().all(|piece| piece.part != **part || piece.blanks == 1))
        .map(|part| job.parts[*part].blank.thickness)
        .collect();
    thicknesses.sort_unstable_by(|one, other| other.cmp(one));
    thicknesses.dedup();
    let planed = |thickness: &Length| shown(*thickness, unit);
    let plane = match thicknesses[..] {
        [] => "plane the other".to_string(),
        [thickness] => format!("plane to {}", planed(&thickness)),
        [thickest, ..] => {
            let others: Vec<String> = thicknesses[1..].iter().map(planed).collect();
            format!("plane to {} (once cut, some to {})", planed(&thickest), others.join(" and "))
        }
    };
    let mill = StepView {
        numbers: String::new(),
        what: format!("joint a face, {plane}, joint an edge"),
        frees: String::new(),
    };
    let line = |cuts: &[SawCut]| {
        let cut = &cuts[0];
        let numbers = match cuts {
            [_] => cut.step.to_string(),
            [.., last] => format!("{} to {}", cut.step, last.step),
            [] => String::new(),
        };
        let what = match (cut.kind, cut.setting) {
            (CutKind::Trim, _) if is_end_trim(cut, board) => {
                let crosscut = if board.sheet.is_some() { "cut" } else { "crosscut" };
                format!("{crosscut} {} off each end", shown(sawing.end_trim, unit))
            }
            (CutKind::Trim, _) => {
                let rip = if board.sheet.is_some() { "cut" } else { "rip" };
                format!("{rip} {} off each edge", shown(sawing.edge_trim, unit))
            }
            (kind, Some((SetupKind::Sheet, setting))) => {
                let way = if kind == CutKind::Rip { "along" } else { "across" };
                let size = shown(setting, unit);
                if setting > job.shop.sheet_saw.longest_rip {
                    format!("cut {way} at {size}, with another tool")
                } else if setting < job.shop.safety.narrowest_rip {
                    format!("cut {way}, fence at {size}, narrow: off the far side of the blade")
                } else {
                    format!("cut {way}, fence at {size}")
                }
            }
            (CutKind::Rip, Some((_, setting))) if saw.rips_beyond_reach(setting) => {
                format!("rip to {}, with another tool", shown(setting, unit))
            }
            (CutKind::Rip, Some((_, setting))) if setting < job.shop.safety.narrowest_rip => {
                format!("rip to {}, narrow: off the far side of the blade", shown(setting, unit))
            }
            (CutKind::Rip, Some((_, setting))) => format!("rip, fence at {}", shown(setting, unit)),
            (CutKind::Crosscut, Some((_, setting))) => {
                let stop = shown(setting, unit);
                match saw.station(setting) {
                    None => format!("crosscut to {stop}, with another tool"),
                    Some(Station::Fence) => {
                        let reading = shown(Station::Fence.reading(saw.standoff_block, setting), unit);
                        format!("crosscut, stop at {stop} (fence reads {reading})")
                    }
                    Some(Station::LongStop) => format!("crosscut, stop at {stop}"),
                    Some(Station::ChopSaw) => format!("crosscut at the chop saw, stop at {stop}"),
                    Some(Station::Sled) => format!("crosscut on the sled, stop at {stop}"),
                }
            }
            (CutKind::Rip, None) => "rip to the line".to_string(),
            (CutKind::Crosscut, None) => "crosscut to the line".to_string(),
        };
        StepView { numbers, what, frees: frees(cuts, board, letters) }
    };
    let lines: Vec<(bool, StepView)> =
        alike(board).map(|cuts| (is_end_trim(&cuts[0], board), line(cuts))).collect();
    let ends = lines.iter().take_while(|(is_end, _)| *is_end).count();
    let mut steps: Vec<StepView> = lines.into_iter().map(|(_, line)| line).collect();
    if !board.pieces.is_empty() && board.sheet.is_none() {
        steps.insert(ends, mill);
    }
    steps
}

/// The pieces that end at some cuts, as letters with their number.
fn frees(cuts: &[SawCut], board: &Board, letters: &[PartIndex]) -> String {
    let ends_at = |cut: &SawCut, piece: &crate::plan::PlacedPiece| match cut.setting {
        Some((SetupKind::Stop, _)) => {
            piece.x + piece.length == cut.x0 && piece.y >= cut.y0 && piece.y + piece.width <= cut.y1
        }
        // Either way; in the row that the cut frees, the last pieces end at it.
        Some((SetupKind::Sheet, _)) if cut.kind == CutKind::Crosscut => {
            piece.x + piece.length == cut.x0 && piece.y >= cut.y0 && piece.y + piece.width <= cut.y1
        }
        Some((SetupKind::Rip | SetupKind::Sheet, _)) => {
            piece.y + piece.width == cut.y0 && piece.x >= cut.x0 && piece.x + piece.length <= cut.x1
        }
        None => false,
    };
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for piece in board.pieces.iter().filter(|piece| cuts.iter().any(|cut| ends_at(cut, piece))) {
        let letter = letters.iter().position(|part| *part == piece.part).unwrap_or(0);
        *counts.entry(letter).or_insert(0) += 1;
    }
    let words = counts.into_iter().map(|(letter, count)| match count {
        1 => letter_of(letter),
        many => format!("{many} {}", letter_of(letter)),
    });
    words.collect::<Vec<_>>().join(", ")
}

/// Species, class and grade; of a sheet its good faces.
pub fn stock(species: &str, quarter: Quarter, grade: Grade) -> String {
    let grade = match grade {
        Grade::BothFaces => "both faces good".to_string(),
        Grade::OneFace => "one face good".to_string(),
        grade => grade.to_string(),
    };
    format!("{species} {quarter} {grade}")
}

fn source(plan: &Plan, board: &Board) -> String {
    let size = format!("{} x {}", shown(board.width, plan.unit), long(board.length, plan.unit));
    let grain = match board.sheet.as_ref().map(|sheet| sheet.grain) {
        None => "",
        Some(SheetGrain::Along) => ", grain from left to right",
        Some(SheetGrain::Across) => ", grain from bottom to top",
        Some(SheetGrain::None) => ", no grain",
    };
    let what = format!("{}, {size}{grain}", stock(&board.species, board.quarter, board.grade));
    match &board.source {
        BoardSource::Buy(row) => format!("{what}, from {}", plan.buy[*row].supplier),
        BoardSource::Rack(_, name) => format!("{what}, rack board {name}"),
    }
}

/// a, b, ... z, aa, ab, ...
fn letter_of(number: usize) -> String {
    letters(number).to_lowercase()
}
