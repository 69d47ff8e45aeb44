//! Boards as the person at the saw meets them: a drawing, the flow of the work, and where the pieces go.

use std::collections::BTreeMap;

use serde::Serialize;

use super::numbers::{
    BoxView, LEAST_HEIGHT, LETTER, NumberView, PAGE_WIDTH, ROOM_OF_NUMBERS, Scale, hundredths, numbers,
};
use super::sizes::{figure, long, shown};
use super::steps::{StepView, letter_of, steps, thicknesses};
use crate::index::{BoardIndex, PartIndex};
use crate::job::{Edges, Fit, Job, Part};
use crate::measure::Unit;
use crate::pattern::Layout;
use crate::plan::{Board, BoardSource, Joined, PlacedPiece, Plan, final_length, final_width};
use crate::trade::{Defect, DefectKind, Grade, Quarter, SheetGrain};

/// Pieces of one part on a board.
#[derive(Serialize)]
struct PieceView {
    letter: String,
    part: String,
    size: String,
    count: usize,
    /// Which defects it may hold, or how it lies on a sheet.
    holds: String,
    next: String,
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
    /// Triangles across the pieces of sets that lie in one row.
    triangles: String,
    pieces: Vec<PieceView>,
    steps: Vec<StepView>,
    /// Sizes of the offcuts that are kept.
    kept: Vec<String>,
    /// What it is called.
    is: &'static str,
    /// (cut, parts by letter, length of the wood)
    joined: Vec<JoinedView>,
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
        from: source(plan, job, board),
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
        triangles: triangles(plan, board, &scale),
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

/// Triangles across sets whose pieces follow each other in one strip.
fn triangles(plan: &Plan, board: &Board, scale: &Scale) -> String {
    let mut triangles = String::new();
    let mut pieces: Vec<&PlacedPiece> = board.pieces.iter().collect();
    pieces.sort_by_key(|piece| (piece.y, piece.x));
    for row in pieces.chunk_by(|one, other| one.y == other.y) {
        for set in plan.sets.iter().map(|count| &count.set) {
            let members = usize::try_from(set.pieces()).unwrap_or(usize::MAX);
            let is_set = |run: &[&PlacedPiece]| {
                set.whole_in(|part| run.iter().filter(|piece| piece.part == part).count() as u64) > 0
            };
            let mut from: usize = 0;
            while let Some(run) = from.checked_add(members).and_then(|to| row.get(from..to)) {
                if !is_set(run) {
                    from += 1;
                    continue;
                }
                let last = run[members - 1];
                let high = run.iter().map(|piece| piece.width).min().unwrap_or(last.width);
                let (x, y, width, height) =
                    scale.place(run[0].x, run[0].y, last.x + last.length - run[0].x, high);
                triangles.push_str(&format!(
                    "M{x} {}h{width}L{} {y}z",
                    hundredths(y + height),
                    hundredths(x + width / 2.0)
                ));
                from += members;
            }
        }
    }
    triangles
}

fn boxes(board: &Board, job: &Job, letters: &[PartIndex], scale: &Scale) -> Vec<BoxView> {
    let unit = scale.unit;
    let mut boxes = Vec::new();
    let fits = |label: &str, width: f64| label.chars().count() as f64 * LETTER < width - 2.0 * LETTER;
    for piece in &board.pieces {
        let letter = letter_of(letters.iter().position(|part| *part == piece.part).unwrap_or(0));
        let part = &job.parts[piece.part];
        let (x, y, width, height) = scale.place(piece.x, piece.y, piece.length, piece.width);
        let size = format!("{} x {}", figure(piece.length, unit), figure(piece.width, unit));
        let title = format!("{} / {} {size}", part.product, part.part);
        // A letter is shown in the smallest piece as well: the list beside the drawing goes by it.
        let long = format!("{letter}: {size}");
        let label = if fits(&long, width - ROOM_OF_NUMBERS) { long } else { letter };
        boxes.push(BoxView::new((x, y, width, height), "piece", label, title));
    }
    for offcut in &board.offcuts {
        let (x, y, width, height) = scale.place(offcut.x, offcut.y, offcut.length, offcut.width);
        let (class, what) = if offcut.keep { ("kept", "kept offcut") } else { ("scrap", "scrap") };
        let size = format!("{} x {}", figure(offcut.length, unit), figure(offcut.width, unit));
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

/// What is done to a part's pieces once they are cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NextStep {
    Resaw,
    GlueUp,
    Edging,
    Creep,
    ToWork,
    FinalSize,
    Drill,
    Sand,
}

impl NextStep {
    pub fn of(part: &Part, is_resawn: bool, is_drilled: bool) -> NextStep {
        match part.fit {
            _ if is_resawn => NextStep::Resaw,
            _ if part.blank.make.is_glued() => NextStep::GlueUp,
            _ if part.sheet.as_ref().is_some_and(|sheet| sheet.edges != Edges::default()) => NextStep::Edging,
            Fit::Creep => NextStep::Creep,
            Fit::ToWork => NextStep::ToWork,
            Fit::Stop if final_width(part).is_some() || final_length(part).is_some() => NextStep::FinalSize,
            Fit::Stop if is_drilled => NextStep::Drill,
            Fit::Stop => NextStep::Sand,
        }
    }

    pub fn words(self) -> &'static str {
        match self {
            NextStep::Resaw => "resaw",
            NextStep::GlueUp => "glue-up",
            NextStep::Edging => "edging",
            NextStep::Creep => "creep up to the line",
            NextStep::ToWork => "mark it from the work",
            NextStep::FinalSize => "final size",
            NextStep::Drill => "drill",
            NextStep::Sand => "sand",
        }
    }
}

/// What a piece is brought to before anything else is done to it.
fn to_final_size(part: &Part, unit: Unit) -> String {
    match (final_length(part), final_width(part)) {
        (Some(length), Some(width)) => format!("final size {} x {}", shown(length, unit), shown(width, unit)),
        (Some(length), None) => format!("final length {}", shown(length, unit)),
        (None, Some(width)) => format!("final width {}", shown(width, unit)),
        (None, None) => String::new(),
    }
}

fn piece_view(plan: &Plan, job: &Job, board: &Board, letter: usize, index: PartIndex) -> PieceView {
    let part = &job.parts[index];
    let of_part = || board.pieces.iter().filter(|piece| piece.part == index);
    let is_drilled =
        plan.work.drilling.iter().any(|hole| (&hole.product, &hole.part) == (&part.product, &part.part));
    let step = NextStep::of(part, of_part().any(|piece| piece.blanks > 1), is_drilled);
    // A part that is fitted to the work gets its width first.
    let fitted = part.fit != Fit::Stop && !part.blank.make.is_glued();
    let next = match (step, final_width(part).filter(|_| fitted)) {
        (NextStep::FinalSize, _) => to_final_size(part, plan.unit),
        (step, Some(width)) => {
            format!("second edge to {}, then {}", shown(width, plan.unit), step.words())
        }
        (step, None) => step.words().to_string(),
    };
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
    let thinner = thicknesses(job, board).first().is_some_and(|thickest| part.blank.thickness < *thickest);
    let planed = of_part().all(|piece| piece.blanks == 1) && part.sheet.is_none() && thinner;
    let next = match planed {
        true => format!("plane to {}, then {next}", shown(part.blank.thickness, plan.unit)),
        false => next,
    };
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

/// A short piece whose wood is milled before a cut.
#[derive(Serialize)]
struct JoinedView {
    before: u32,
    letter: String,
    length: String,
}

fn joined(plan: &Plan, board: &Board, letters: &[PartIndex]) -> Vec<JoinedView> {
    let view = |joined: &Joined| {
        let letter = letters.iter().position(|part| *part == joined.part).unwrap_or(0);
        JoinedView {
            before: joined.before_step,
            letter: letter_of(letter),
            length: shown(joined.length, plan.unit),
        }
    };
    board.joined.iter().map(view).collect()
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

fn source(plan: &Plan, job: &Job, board: &Board) -> String {
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
        BoardSource::Rack(index, name) => match job.rack[*index].place.as_str() {
            "" => format!("{what}, rack board {name}"),
            place => format!("{what}, rack board {name} at {place}"),
        },
    }
}
