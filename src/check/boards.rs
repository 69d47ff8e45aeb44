//! All boards together: where they come from, what they give, the setups and the ledger.

use std::collections::{BTreeMap, BTreeSet};

use super::board::{Box2, Replay, Seen, replay};
use super::exact;
use super::fault::PlanFault;
use super::ledger::Ledger;
use crate::document::{BoardEntry, Document, PartEntry, PieceEntry, SetupEntry};
use crate::index::{PartIndex, RackIndex, TiSlice, TiVec, ti_vec};
use crate::job::{Defect, Edges, Fit, Job, Make, Part, Sheet, SheetPart, Shop, WoodDefects};
use crate::measure::Length;
use crate::trade::{Clear, DefectKind, Grade, PartGrain, Quarter, SheetGrain, same_species, usual_thickness};

/// What holds a setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Held {
    /// The rip fence.
    Rip,
    /// A stop.
    Stop,
    /// The fence of the saw for sheets.
    Sheet,
}

/// What holds it, and what the saw leaves.
type Setting = (Held, Length);

impl Held {
    /// By its name in the plan; a word that means nothing is no stop.
    fn of(kind: &str) -> Held {
        match kind {
            "stop" => Held::Stop,
            "sheet" => Held::Sheet,
            _ => Held::Rip,
        }
    }
}

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
struct Origin<'j> {
    species: &'j str,
    quarter: Quarter,
    grade: Grade,
    /// Of a sheet, its core, its grain and what it measures.
    sheet: &'j Sheet,
    length: Length,
    width: Length,
    rack: Option<RackIndex>,
    /// Upper ends of length and width, where the board is drawn.
    drawn: Option<(Length, Length)>,
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
    let (mut lumber, mut sheets) = (Ledger::default(), Ledger::default());
    let mut setting_boards: BTreeMap<Setting, BTreeSet<String>> = BTreeMap::new();
    let mut sequences: BTreeMap<&str, Sequence> = BTreeMap::new();
    let mut ids = BTreeSet::new();
    for board in &document.boards {
        let place = format!("board {}", board.id);
        if !ids.insert(board.id.as_str()) {
            faults.push(PlanFault::new(place.clone(), "stands there twice"));
        }
        let Some(origin) = origin(document, job, board, &mut found, faults) else { continue };
        let drawn = drawn_defects(board, job);
        let defects = origin.rack.map_or(&drawn[..], |index| &job.rack[index].defects);
        let clear = |piece: &PieceEntry| {
            let index = part_index.get(&(piece.product.as_str(), piece.part.as_str()));
            index.map_or(Clear::Yes, |index| job.parts[*index].clear)
        };
        let replayed = replay(board, &job.shop, origin.quarter.is_sheet(), defects, &clear, faults);
        if board.grain.as_deref() != origin.quarter.is_sheet().then(|| origin.sheet.grain.name()) {
            faults.push(PlanFault::new(place.clone(), "does not tell its grain as its source does"));
        }
        let mut parts = Vec::new();
        for piece in &board.pieces {
            let Some(index) = part_index.get(&(piece.product.as_str(), piece.part.as_str())) else {
                let text = format!("gives {} / {}, which the job does not want", piece.product, piece.part);
                faults.push(PlanFault::new(place.clone(), text));
                continue;
            };
            let part = &job.parts[*index];
            check_piece(part, &origin, board, job, piece, faults);
            check_blanks(part, &origin, board, job, piece.blanks, faults);
            parts.push((*index, u64::from(piece.blanks)));
            let sheet = part.sheet.is_some();
            let (along, across) = if sheet { (Held::Sheet, Held::Sheet) } else { (Held::Rip, Held::Stop) };
            found.charged.insert((along, part.blank.cut_width));
            if sheet || part.fit != Fit::ToWork {
                found.charged.insert((across, part.blank.cut_length));
            }
        }
        let ledger = if origin.quarter.is_sheet() { &mut sheets } else { &mut lumber };
        ledger.add(job, board, origin.quarter, &replayed, &parts, &mut cut);
        let pieces = on_work(job, board, &part_index);
        let sequence = sequence(&replayed, &pieces, origin.quarter.is_sheet());
        for key in sequence.iter().filter_map(|(_, setting)| *setting) {
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
    check_order(document, job, &setting_boards, &sequences, faults);
    check_along(document, &setting_boards, faults);
    found
}

fn origin<'j>(
    document: &Document,
    job: &'j Job,
    board: &BoardEntry,
    found: &mut Replayed,
    faults: &mut Vec<PlanFault>,
) -> Option<Origin<'j>> {
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
                    let line = &job.lines[line];
                    Some(Origin {
                        species: &line.species,
                        quarter: line.quarter,
                        grade: line.grade,
                        sheet: &line.sheet,
                        length: line.length,
                        width: line.width,
                        rack: None,
                        drawn: (by_grade && !line.quarter.is_sheet())
                            .then(|| line.upper.unwrap_or((line.length, line.width))),
                    })
                }
                _ => None,
            }
        }
        Some(("rack", name)) => job.rack.position(|board| board.board == name).map(|index| {
            if !found.rack.insert(index) || board.copies > 1 {
                faults.push(PlanFault::new(place.clone(), format!("uses the rack's {name} more than once")));
            }
            let rack = &job.rack[index];
            Origin {
                species: &rack.species,
                quarter: rack.quarter,
                grade: rack.grade,
                sheet: &rack.sheet,
                length: rack.length,
                width: rack.width,
                rack: Some(index),
                drawn: None,
            }
        }),
        _ => None,
    };
    let Some(origin) = origin else {
        faults
            .push(PlanFault::new(place, format!("comes from \"{}\", which is not to be had", board.source)));
        return None;
    };
    let unit = job.shop.unit;
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

fn check_piece(
    part: &Part,
    origin: &Origin<'_>,
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
    let Some(sheet) = &part.sheet else {
        if origin.quarter.is_sheet() || piece.turned {
            faults.push(PlanFault::new(place.clone(), format!("gives {name} of a sheet, or turned")));
        }
        if job.shop.dressed(origin.quarter, part.blank.cut_length) < part.blank.thickness {
            faults.push(PlanFault::new(place, format!("is too thin for {name}")));
        }
        return;
    };
    let real = origin.sheet.real.unwrap_or_else(|| usual_thickness(origin.quarter.rough()));
    if !origin.quarter.is_sheet() || ![origin.quarter.rough(), real].contains(&part.thickness) {
        faults.push(PlanFault::new(place.clone(), format!("is no sheet as thick as {name}")));
    }
    if !sheet.core.is_empty() && !same_species(&sheet.core, &origin.sheet.core) {
        faults.push(PlanFault::new(place.clone(), format!("has another core than {name} asks for")));
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
        faults.push(PlanFault::new(place, format!("has {name} across the grain that it asks for")));
    }
}

/// A piece may be resawn into blanks only if its class has the thickness for them.
fn check_blanks(
    part: &Part,
    origin: &Origin<'_>,
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

/// What a cut is set to, if it is made at a fence or a stop.
fn setting_of(cut: &Seen, pieces: &[(Box2, bool)], is_sheet: bool) -> Option<Setting> {
    let Seen { freed, is_crosscut, is_trim, .. } = *cut;
    if is_trim {
        return None;
    }
    // A cut that frees no piece follows a line beside a defect.
    let frees = pieces.iter().any(|(piece, _)| piece.inside(&freed));
    // A crosscut is made to a stop unless all pieces that end at it are left long for the work.
    let mut ending = pieces.iter().filter(|(piece, _)| {
        piece.x1 == freed.x1 && piece.x0 == freed.x0 && piece.y0 >= freed.y0 && piece.y1 <= freed.y1
    });
    let size = if is_crosscut { freed.length() } else { freed.width() };
    match (is_sheet, is_crosscut) {
        // At the saw for sheets every cut that frees a piece is made at the fence.
        (true, _) => frees.then_some((Held::Sheet, size)),
        (false, false) => frees.then_some((Held::Rip, size)),
        (false, true) => ending.any(|(_, to_work)| !to_work).then_some((Held::Stop, size)),
    }
}

/// For each cut of a board the one that must be made before it, and what it is set to.
type Sequence = Vec<(Option<usize>, Option<Setting>)>;

fn sequence(replayed: &Replay, pieces: &[(Box2, bool)], is_sheet: bool) -> Sequence {
    replayed.cuts.iter().map(|cut| (cut.after, setting_of(cut, pieces, is_sheet))).collect()
}

/// Can a board be cut if its settings are made in this order? Cuts along a line may be made at any time.
fn can_be_cut(sequence: &Sequence, order: impl Iterator<Item = Setting>) -> bool {
    let mut done: Vec<bool> = vec![false; sequence.len()];
    let ready = |done: &[bool], place: usize| sequence[place].0.is_none_or(|before| done[before]);
    let mut go_on = |now: Option<Setting>| {
        // A cut is listed after the one that frees its wood.
        for place in 0..sequence.len() {
            let is_now = sequence[place].1.is_none() || sequence[place].1 == now;
            done[place] |= is_now && ready(&done, place);
        }
        done.iter().all(|done| *done)
    };
    let mut all = go_on(None);
    for setting in order {
        all = go_on(Some(setting));
    }
    all
}

/// What the plan says of a part.
pub fn entry_of<'d>(document: &'d Document, part: &Part) -> Option<&'d PartEntry> {
    document.parts.iter().find(|entry| entry.product == part.product && entry.part == part.part)
}

fn check_demand(document: &Document, job: &Job, cut: &TiSlice<PartIndex, u64>, faults: &mut Vec<PlanFault>) {
    for (part, cut) in job.parts.iter().zip(cut) {
        let name = format!("{} / {}", part.product, part.part);
        let wanted = part.blanks_wanted();
        if *cut < wanted {
            let text = match part.blank.make {
                Make::Whole => format!("are {cut} of {name}, and {wanted} are wanted"),
                make => format!(
                    "are {cut} {} for {name}, and {} parts of {} are wanted",
                    make.words().1,
                    part.required,
                    make.pieces()
                ),
            };
            faults.push(PlanFault::new("boards", text));
        }
        let entry = entry_of(document, part);
        if let Some(entry) = entry {
            check_glued(entry, part, job, faults);
        }
        match entry {
            Some(entry) if entry.required == wanted && entry.cut == *cut => {}
            _ => faults.push(PlanFault::new("parts", format!("does not count {name} as it is cut"))),
        }
    }
    if document.parts.len() != job.parts.len() {
        faults.push(PlanFault::new("parts", "does not list each wanted part once"));
    }
}

/// Strips or layers of one part that a plan may name.
pub const MOST_GLUED: u32 = 1_000;

/// Enough strips or layers, and large enough, for every glued part.
fn check_glued(entry: &PartEntry, part: &Part, job: &Job, faults: &mut Vec<PlanFault>) {
    let place = format!("the glue-up {} / {}", part.product, part.part);
    let entry = match (&entry.glued, part.blank.make.is_glued()) {
        (None, false) => return,
        (Some(entry), true) => entry,
        _ => {
            faults.push(PlanFault::new(place, "is not told from a part that is cut whole"));
            return;
        }
    };
    if entry.pieces > MOST_GLUED {
        faults.push(PlanFault::new(place, "has more pieces in each part than can be glued"));
        return;
    }
    let pieces = i64::from(entry.pieces);
    let number = |value: f64| exact(value, job.shop.unit);
    let sum = match entry.kind.as_str() {
        "panel" => (number(entry.piece_width) * pieces, number(entry.piece_thickness)),
        "lamination" => (number(entry.piece_width), number(entry.piece_thickness) * pieces),
        _ => (Length::ZERO, Length::ZERO),
    };
    let wanted = (number(entry.width), number(entry.thickness));
    if wanted != (part.width, part.thickness) || sum.0 < wanted.0 || sum.1 < wanted.1 {
        faults.push(PlanFault::new(place.clone(), "does not come to the part's finished size"));
    }
    if entry.parts != part.required || entry.pieces != part.blank.make.pieces() {
        faults.push(PlanFault::new(place, "does not have the pieces of all parts wanted"));
    }
}

/// An order of the settings must come to every board that is cut at each of them.
fn check_order(
    document: &Document,
    job: &Job,
    boards: &BTreeMap<Setting, BTreeSet<String>>,
    sequences: &BTreeMap<&str, Sequence>,
    faults: &mut Vec<PlanFault>,
) {
    let mut reached: BTreeMap<Setting, BTreeSet<String>> = BTreeMap::new();
    for made in &document.settings_order {
        let key = (Held::of(&made.kind), exact(made.setting, job.shop.unit));
        reached.entry(key).or_default().extend(made.boards.iter().cloned());
    }
    if reached != *boards {
        faults.push(PlanFault::new(
            "settings_order",
            "does not come to just the boards that each setting cuts",
        ));
    }
    for (id, sequence) in sequences {
        let own = document.settings_order.iter().filter(|made| made.boards.iter().any(|board| board == id));
        let order = own.map(|made| (Held::of(&made.kind), exact(made.setting, job.shop.unit)));
        if !can_be_cut(sequence, order) {
            let text = format!("comes to cuts of board {id} before the wood for them is freed");
            faults.push(PlanFault::new("settings_order", text));
        }
    }
    if document.settings_made != document.settings_order.len() {
        faults.push(PlanFault::new("settings_made", "is not the number of settings in their order"));
    }
}

/// A layout is sawn along with one of boards as large that is cut the same way first, at all its settings.
fn check_along(
    document: &Document,
    boards: &BTreeMap<Setting, BTreeSet<String>>,
    faults: &mut Vec<PlanFault>,
) {
    let mut settings: BTreeMap<&str, BTreeSet<Setting>> = BTreeMap::new();
    for (setting, boards) in boards {
        for board in boards {
            settings.entry(board).or_default().insert(*setting);
        }
    }
    let none = BTreeSet::new();
    let of = |board: &BoardEntry| settings.get(board.id.as_str()).unwrap_or(&none);
    let by_id: BTreeMap<&str, &BoardEntry> =
        document.boards.iter().map(|board| (board.id.as_str(), board)).collect();
    let mut least = 0;
    for board in &document.boards {
        let Some(leader) = &board.along_with else {
            least += of(board).len();
            continue;
        };
        let leads = |other: &&BoardEntry| {
            let as_large = (other.length, other.width, other.grain.is_some())
                == (board.length, board.width, board.grain.is_some());
            let alike = as_large && other.layout == board.layout && other.along_with.is_none();
            alike && of(board).is_subset(of(other))
        };
        if !by_id.get(leader.as_str()).is_some_and(leads) {
            let text = format!("cannot be sawn along with board {leader}");
            faults.push(PlanFault::new(format!("board {}", board.id), text));
        }
    }
    // A setting that a layout comes back to is made twice. Plans without an order of settings count none.
    if !document.settings_order.is_empty() && document.settings_by_layout < least {
        faults.push(PlanFault::new("settings_by_layout", "is less than the layouts need"));
    }
}

/// What holds a setting, and what its scale reads. A fence never serves as the stop itself: a block is clamped to it.
fn held_by(shop: &Shop, held: Held, setting: Length) -> (Option<&'static str>, Length) {
    if held != Held::Stop {
        return (None, setting);
    }
    let saw = &shop.saw;
    let with_block = setting + saw.standoff_block;
    let fence = (with_block <= saw.max_rip_width).then_some("fence");
    match (saw.stations.chop_saw, saw.stations.sled) {
        (None, None) if setting > saw.max_crosscut_length => (None, with_block),
        (None, None) => (fence.or(Some("long-stop")), with_block),
        (Some(longest), _) if setting <= longest => (Some("chop-saw"), setting),
        (_, Some(longest)) if setting <= longest => (Some("sled"), setting),
        _ if fence.is_some() => (fence, with_block),
        _ => (None, setting),
    }
}

fn check_setups(
    document: &Document,
    job: &Job,
    settings: &BTreeMap<Setting, u64>,
    boards: &BTreeMap<Setting, BTreeSet<String>>,
    faults: &mut Vec<PlanFault>,
) {
    let unit = job.shop.unit;
    let key = |setup: &SetupEntry| (Held::of(&setup.kind), exact(setup.setting, unit));
    let mut seen = BTreeSet::new();
    for setup in &document.setups {
        let (held, setting) = key(setup);
        let place = format!("the {} setting {}", setup.kind, setting.display(unit));
        if !seen.insert((held, setting)) {
            faults.push(PlanFault::new(place.clone(), "is made twice"));
        }
        let (station, reading) = held_by(&job.shop, held, setting);
        if exact(setup.fence_reading, unit) != reading {
            faults.push(PlanFault::new(place.clone(), "has a wrong fence reading"));
        }
        if !["rip", "stop", "sheet"].contains(&setup.kind.as_str()) {
            faults.push(PlanFault::new(place.clone(), "is of no kind that a saw has"));
        }
        let saw = &job.shop.saw;
        let beyond = match held {
            Held::Rip => setting > saw.max_rip_width,
            Held::Sheet => setting > job.shop.sheet_saw.longest_rip,
            Held::Stop => station.is_none(),
        };
        if setup.beyond_reach != beyond {
            faults.push(PlanFault::new(place.clone(), "is wrong about the reach of the saw"));
        }
        if setup.narrow != (held != Held::Stop && setting < job.shop.safety.narrowest_rip) {
            faults.push(PlanFault::new(place.clone(), "is wrong about what is too narrow for the fence"));
        }
        if setup.station.as_deref() != station {
            faults.push(PlanFault::new(place.clone(), "is at a machine that cannot hold it, or at none"));
        }
        let used: BTreeSet<String> = setup.boards.iter().cloned().collect();
        if settings.get(&(held, setting)) != Some(&setup.cuts) || boards.get(&(held, setting)) != Some(&used)
        {
            faults.push(PlanFault::new(place, "does not stand for the cuts that the boards need at it"));
        }
    }
    for (held, setting) in settings.keys().filter(|key| !seen.contains(key)) {
        let kind = match held {
            Held::Rip => "rip",
            Held::Stop => "stop",
            Held::Sheet => "sheet",
        };
        let place = format!("the {kind} setting {}", setting.display(unit));
        faults.push(PlanFault::new(place, "is needed and not listed"));
    }
}
