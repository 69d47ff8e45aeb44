//! All boards together: where they come from, what they give, the setups and the ledger.

use std::collections::{BTreeMap, BTreeSet};

use super::board::{Box2, replay};
use super::demand::check_demand;
use super::exact;
use super::fault::PlanFault;
use super::joined::check_joined;
use super::ledger::LedgerSums;
use super::settings::{
    Held, Sequence, Setting, check_along, check_counts, check_order, check_setups, sequence,
};
use crate::document::{BoardEntry, Document, PieceEntry};
use crate::index::{PartIndex, RackIndex, TiVec, ti_vec};
use crate::job::{Defect, Edges, Fit, Job, Part, PriceLine, RackBoard, Sheet, SheetPart, WoodDefects};
use crate::measure::Length;
use crate::trade::{Clear, DefectKind, Grade, PartGrain, Quarter, SheetGrain, same_species, usual_thickness};

/// What the replay of all boards adds up to.
#[derive(Debug, Default)]
pub struct Replayed {
    /// Copies of each buy row that are cut.
    pub copies: Vec<u64>,
    /// Rack boards used, by index in the job.
    pub rack: BTreeSet<RackIndex>,
    /// Settings found by the replay, with their cuts.
    pub settings: BTreeMap<Setting, u64>,
    /// Settings whose labour is charged: those, and the sizes of pieces that a trim frees.
    pub charged: BTreeSet<Setting>,
}

/// The board as the job knows it.
struct BoardOrigin<'j> {
    species: &'j str,
    quarter: Quarter,
    grade: Grade,
    /// Of a sheet, its core, its grain and what it measures.
    sheet: &'j Sheet,
    length: Length,
    width: Length,
    rack: Option<RackIndex>,
    trimmed: bool,
    /// Upper ends of length and width, where the board is drawn.
    drawn: Option<(Length, Length)>,
}

impl<'j> BoardOrigin<'j> {
    fn of_line(line: &'j PriceLine, by_grade: bool) -> BoardOrigin<'j> {
        let is_drawn = by_grade && !line.quarter.is_sheet();
        BoardOrigin {
            species: &line.species,
            quarter: line.quarter,
            grade: line.grade,
            sheet: &line.sheet,
            length: line.length,
            width: line.width,
            rack: None,
            trimmed: false,
            drawn: is_drawn.then(|| line.upper.unwrap_or((line.length, line.width))),
        }
    }

    fn of_rack(index: RackIndex, board: &'j RackBoard) -> BoardOrigin<'j> {
        BoardOrigin {
            species: &board.species,
            quarter: board.quarter,
            grade: board.grade,
            sheet: &board.sheet,
            length: board.length,
            width: board.width,
            rack: Some(index),
            trimmed: board.trimmed,
            drawn: None,
        }
    }
}

/// Checks every board, the demand, the ledger and the setups.
pub fn check_boards(document: &Document, job: &Job, faults: &mut Vec<PlanFault>) -> Replayed {
    let mut found = Replayed { copies: vec![0; document.buy.len()], ..Replayed::default() };
    let part_index: BTreeMap<(&str, &str), PartIndex> = job
        .parts
        .iter_enumerated()
        .map(|(i, part)| ((part.product.as_str(), part.part.as_str()), i))
        .collect();
    let mut cut: TiVec<PartIndex, u64> = ti_vec![0; job.parts.len()];
    let (mut lumber, mut sheets) = (LedgerSums::default(), LedgerSums::default());
    let mut setting_boards: BTreeMap<Setting, BTreeSet<String>> = BTreeMap::new();
    let mut sequences: BTreeMap<&str, Sequence> = BTreeMap::new();
    let mut ids = BTreeSet::new();
    for board in &document.boards {
        let place = format!("board {}", board.id);
        if !ids.insert(board.id.as_str()) {
            faults.push(PlanFault::new(place.clone(), "stands there twice"));
        }
        let Some(origin) = origin(document, job, board, &mut found, faults) else { continue };
        let part_of =
            |piece: &PieceEntry| part_index.get(&(piece.product.as_str(), piece.part.as_str())).copied();
        let drawn = drawn_defects(board, job);
        let defects = origin.rack.map_or(&drawn[..], |index| &job.rack[index].defects);
        let clear = |piece: &PieceEntry| part_of(piece).map_or(Clear::Yes, |index| job.parts[index].clear);
        let replayed =
            replay(board, &job.shop, (origin.quarter.is_sheet(), origin.trimmed), defects, &clear, faults);
        if !document.is_bare() && !origin.quarter.is_sheet() {
            check_joined(board, &job.shop, faults);
        }
        if board.grain.as_deref() != origin.quarter.is_sheet().then(|| origin.sheet.grain.name()) {
            faults.push(PlanFault::new(place.clone(), "does not tell its grain as its source does"));
        }
        let mut parts = Vec::new();
        for piece in &board.pieces {
            let Some(index) = part_of(piece) else {
                let text = format!("gives {} / {}, which the job does not want", piece.product, piece.part);
                faults.push(PlanFault::new(place.clone(), text));
                continue;
            };
            let part = &job.parts[index];
            check_piece(part, &origin, board, job, piece, faults);
            check_blanks(part, &origin, board, job, piece.blanks, faults);
            parts.push((index, u64::from(piece.blanks)));
            found.charged.extend(charged_for(part));
        }
        let ledger = if origin.quarter.is_sheet() { &mut sheets } else { &mut lumber };
        ledger.add(job, board, (origin.quarter, origin.trimmed), &replayed, &parts, &mut cut);
        let pieces = on_work(job, board, &part_index);
        let sequence = sequence(&replayed, &pieces, origin.quarter.is_sheet());
        for key in sequence.iter().filter_map(|cut| cut.setting) {
            *found.settings.entry(key).or_insert(0) += u64::from(board.copies);
            setting_boards.entry(key).or_default().insert(board.id.clone());
        }
        sequences.insert(board.id.as_str(), sequence);
    }
    found.charged.extend(found.settings.keys());
    check_demand(document, job, &cut, faults);
    lumber.compare(document, job, faults);
    sheets.compare_sheets(document, faults);
    check_setups(document, job, &found.settings, &setting_boards, faults);
    if !document.is_bare() {
        check_order(document, job, &setting_boards, &sequences, faults);
        check_counts(document, job, &sequences, faults);
    }
    check_along(document, &setting_boards, faults);
    found
}

/// Where a board comes from, and whether that sells or holds such a board.
fn origin<'j>(
    document: &Document,
    job: &'j Job,
    board: &BoardEntry,
    found: &mut Replayed,
    faults: &mut Vec<PlanFault>,
) -> Option<BoardOrigin<'j>> {
    let place = format!("board {}", board.id);
    if board.copies == 0 {
        faults.push(PlanFault::new(place.clone(), "is cut 0 times"));
    }
    let by_grade = job.shop.wood.defects == WoodDefects::ByGrade;
    let origin = match board.source.split_once(':') {
        Some(("buy", row)) => {
            let row: Option<usize> = row.parse().ok().filter(|row| *row < document.buy.len());
            let entry = row.and_then(|row| super::lines::price_line(&document.buy[row], job));
            match (row, entry) {
                (Some(row), Some(line)) => {
                    found.copies[row] += u64::from(board.copies);
                    Some(BoardOrigin::of_line(&job.lines[line], by_grade))
                }
                _ => None,
            }
        }
        Some(("rack", name)) => job.rack.position(|board| board.board == name).map(|index| {
            if !found.rack.insert(index) || board.copies > 1 {
                faults.push(PlanFault::new(place.clone(), format!("uses the rack's {name} more than once")));
            }
            BoardOrigin::of_rack(index, &job.rack[index])
        }),
        _ => None,
    };
    let Some(origin) = origin else {
        faults
            .push(PlanFault::new(place, format!("comes from \"{}\", which is not to be had", board.source)));
        return None;
    };
    let unit = job.shop.unit;
    if board.trimmed != origin.trimmed {
        let text = "does not tell as its source does whether its ends and edges are sawn already";
        faults.push(PlanFault::new(place.clone(), text));
    }
    if board.drawn != origin.drawn.is_some() {
        let text = if board.drawn { "is drawn, though its source is known" } else { "is not drawn" };
        faults.push(PlanFault::new(place.clone(), text));
    }
    let (longest, widest) = origin.drawn.unwrap_or((origin.length, origin.width));
    let same = (origin.length..=longest).contains(&exact(board.length, unit))
        && (origin.width..=widest).contains(&exact(board.width, unit))
        && Quarter::parse(&board.quarter) == Some(origin.quarter);
    if !same {
        faults.push(PlanFault::new(place, "is not of the size that its source sells"));
    }
    Some(origin)
}

/// The settings that a piece of a part is charged for.
fn charged_for(part: &Part) -> impl Iterator<Item = Setting> {
    let is_sheet = part.sheet.is_some();
    let (along, across) = if is_sheet { (Held::Sheet, Held::Sheet) } else { (Held::Rip, Held::Stop) };
    let to_stop = is_sheet || part.fit != Fit::ToWork;
    let across = to_stop.then_some((across, part.blank.cut_length));
    std::iter::once((along, part.blank.cut_width)).chain(across)
}

/// The defects that a drawn board is said to have.
fn drawn_defects(board: &BoardEntry, job: &Job) -> Vec<Defect> {
    let at = |value: f64| exact(value, job.shop.unit);
    let defects = board.defects.iter();
    defects
        .map(|entry| Defect {
            x0: at(entry.x0),
            x1: at(entry.x1),
            y0: at(entry.y0),
            y1: at(entry.y1),
            // A word that means nothing excuses nothing.
            kind: DefectKind::parse(&entry.kind).unwrap_or_default(),
        })
        .collect()
}

/// Size, species, grade and thickness of a piece.
fn check_piece(
    part: &Part,
    origin: &BoardOrigin<'_>,
    board: &BoardEntry,
    job: &Job,
    piece: &PieceEntry,
    faults: &mut Vec<PlanFault>,
) {
    let milling = &job.shop.milling;
    let extra = match part.fit {
        Fit::Stop => Length::ZERO,
        Fit::Creep => milling.creep_allowance,
        Fit::ToWork => milling.to_work_allowance,
    };
    let glued = part.blank.make.is_glued();
    let joints = if glued { job.shop.glue.joint_allowance * 2 } else { Length::ZERO };
    let (length, width) = match &part.sheet {
        None => (
            part.length + milling.length_allowance + extra,
            part.blank.width + milling.width_allowance + joints,
        ),
        Some(SheetPart { edges: Edges([front, back, left, right]), .. }) => {
            (part.length + extra - *left - *right, part.width - *front - *back)
        }
    };
    let place = format!("board {}", board.id);
    let name = format!("{} / {}", part.product, part.part);
    let unit = job.shop.unit;
    let (along, across) = if piece.turned { (width, length) } else { (length, width) };
    if exact(piece.length, unit) != along || exact(piece.width, unit) != across {
        let due = format!("{} x {}", length.display(unit), width.display(unit));
        faults.push(PlanFault::new(place.clone(), format!("cuts {name} at another size than {due}")));
    }
    if !same_species(origin.species, &part.species) {
        faults.push(PlanFault::new(place.clone(), format!("is {}, and {name} is not", origin.species)));
    }
    if !origin.grade.serves(part.grade) {
        faults.push(PlanFault::new(place.clone(), format!("is of too low a grade for {name}")));
    }
    if let Some(sheet) = &part.sheet {
        check_sheet_piece(part, sheet, origin, piece, &mut |text| {
            faults.push(PlanFault::new(place.clone(), text));
        });
        return;
    }
    if origin.quarter.is_sheet() || piece.turned {
        faults.push(PlanFault::new(place.clone(), format!("gives {name} of a sheet, or turned")));
    }
    if job.shop.dressed(origin.quarter, part.blank.cut_length) < part.blank.thickness {
        faults.push(PlanFault::new(place, format!("is too thin for {name}")));
    }
}

/// A piece of a sheet needs a sheet of its thickness and core, and lies on it as its grain allows.
fn check_sheet_piece(
    part: &Part,
    sheet: &SheetPart,
    origin: &BoardOrigin<'_>,
    piece: &PieceEntry,
    report: &mut impl FnMut(String),
) {
    let name = format!("{} / {}", part.product, part.part);
    let real = origin.sheet.real.unwrap_or_else(|| usual_thickness(origin.quarter.rough()));
    if !origin.quarter.is_sheet() || ![origin.quarter.rough(), real].contains(&part.thickness) {
        report(format!("is no sheet as thick as {name}"));
    }
    if !sheet.core.is_empty() && !same_species(&sheet.core, &origin.sheet.core) {
        report(format!("has another core than {name} asks for"));
    }
    // Where the grain of the part runs when it lies so: along the sheet or across it.
    let grain_along = match sheet.grain {
        PartGrain::Any => None,
        PartGrain::Along => Some(!piece.turned),
        PartGrain::Across => Some(piece.turned),
    };
    let against = match origin.sheet.grain {
        SheetGrain::None => false,
        SheetGrain::Along => grain_along == Some(false),
        SheetGrain::Across => grain_along == Some(true),
    };
    if against {
        report(format!("has {name} across the grain that it asks for"));
    }
}

/// A piece may be resawn into blanks only if its class has the thickness for them.
fn check_blanks(
    part: &Part,
    origin: &BoardOrigin<'_>,
    board: &BoardEntry,
    job: &Job,
    blanks: u32,
    faults: &mut Vec<PlanFault>,
) {
    let resaw = &job.shop.resaw;
    let allowed = (1..=resaw.blanks).contains(&blanks) && {
        let thickness = part.blank.thickness;
        let mut used = thickness;
        for _ in 1..blanks {
            used += resaw.kerf + resaw.cleaning + resaw.cleaning + thickness;
        }
        // A piece that is not resawn is judged with the others.
        blanks == 1 || used <= job.shop.dressed(origin.quarter, part.blank.cut_length)
    };
    if !allowed {
        let text = format!("cannot be resawn into {blanks} blanks of {} / {}", part.product, part.part);
        faults.push(PlanFault::new(format!("board {}", board.id), text));
    }
}

/// Boxes of pieces that are left long for the work: no stop is set for them.
fn on_work(job: &Job, board: &BoardEntry, parts: &BTreeMap<(&str, &str), PartIndex>) -> Vec<(Box2, bool)> {
    let unit = job.shop.unit;
    let pieces = board.pieces.iter().filter_map(|piece| {
        let index = parts.get(&(piece.product.as_str(), piece.part.as_str()))?;
        let (x, y) = (exact(piece.x, unit), exact(piece.y, unit));
        let place =
            Box2 { x0: x, x1: x + exact(piece.length, unit), y0: y, y1: y + exact(piece.width, unit) };
        Some((place, job.parts[*index].fit == Fit::ToWork))
    });
    pieces.collect()
}
