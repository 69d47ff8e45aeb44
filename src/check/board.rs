//! One board: its cuts replayed with a saw that knows nothing of patterns.

use num_bigint::BigInt;

use super::exact;
use super::fault::PlanFault;
use crate::document::{BoardEntry, CutEntry, PieceEntry};
use crate::job::{Defect, Shop};
use crate::measure::{Area, Length, Unit};
use crate::trade::{Clear, DefectKind, Quarter};

/// A box on a board.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Box2 {
    pub x0: Length,
    pub x1: Length,
    pub y0: Length,
    pub y1: Length,
}

impl Box2 {
    pub fn new(x: f64, y: f64, length: f64, width: f64, unit: Unit) -> Box2 {
        // Corner and size are exact lengths each, so their sum is as well.
        let (x, y) = (exact(x, unit), exact(y, unit));
        Box2 { x0: x, x1: x + exact(length, unit), y0: y, y1: y + exact(width, unit) }
    }

    fn is_empty(&self) -> bool {
        self.x1 <= self.x0 || self.y1 <= self.y0
    }

    /// Does it lie in the other one, borders included?
    pub fn inside(&self, other: &Box2) -> bool {
        self.x0 >= other.x0 && self.x1 <= other.x1 && self.y0 >= other.y0 && self.y1 <= other.y1
    }

    fn meets(&self, other: &Box2) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }

    pub fn length(&self) -> Length {
        self.x1 - self.x0
    }

    pub fn width(&self) -> Length {
        self.y1 - self.y0
    }
}

/// A cut as the replay saw it.
#[derive(Debug, Clone, Copy)]
pub struct Seen {
    /// The cut that frees the wood it divides, by place; none where that is the board.
    pub after: Option<usize>,
    /// What it frees: the near side.
    pub freed: Box2,
    /// Does it run across?
    pub is_crosscut: bool,
    /// Does it only take off an end or an edge?
    pub is_trim: bool,
}

/// What the replay of a board found out.
#[derive(Debug, Default)]
pub struct Replay {
    /// Every cut, in the order of the plan.
    pub cuts: Vec<Seen>,
    /// Area lost to rips and crosscuts, as boxes.
    pub kerf: Vec<Box2>,
}

/// Replays a board and checks everything that can be seen on it alone.
pub fn replay(
    board: &BoardEntry,
    shop: &Shop,
    (is_sheet, trimmed): (bool, bool),
    defects: &[Defect],
    clear: &dyn Fn(&PieceEntry) -> Clear,
    faults: &mut Vec<PlanFault>,
) -> Replay {
    let unit = shop.unit;
    let place = format!("board {}", board.id);
    let (length, width) = (exact(board.length, unit), exact(board.width, unit));
    let whole = Box2 { x0: Length::ZERO, x1: length, y0: Length::ZERO, y1: width };
    let saw = SawRules::of(shop, is_sheet);
    let (end, edge) = trims(shop, is_sheet, trimmed);
    let usable = Box2 { x0: end, x1: length - end, y0: edge, y1: width - edge };
    let pieces: Vec<Box2> = board
        .pieces
        .iter()
        .map(|piece| Box2::new(piece.x, piece.y, piece.length, piece.width, unit))
        .collect();
    let offcuts: Vec<Box2> =
        board.offcuts.iter().map(|off| Box2::new(off.x, off.y, off.length, off.width, unit)).collect();
    let mut report = |text: String| faults.push(PlanFault::new(place.clone(), text));

    for (number, piece) in pieces.iter().enumerate() {
        let name = format!("{} / {}", board.pieces[number].product, board.pieces[number].part);
        if piece.is_empty() || !piece.inside(&usable) {
            report(format!("has {name} outside its usable rectangle"));
        }
        let spoils = |defect: &&Defect| match (clear(&board.pieces[number]), defect.kind) {
            (_, DefectKind::Unsound) | (Clear::Yes, _) | (Clear::Face, DefectKind::Sound) => true,
            (Clear::No, _) | (Clear::Face, DefectKind::SoundBack) => false,
        };
        if defects.iter().filter(spoils).any(|defect| piece.meets(&of_defect(defect))) {
            report(format!("has {name} over a defect"));
        }
        // One such neighbour is told: thousands of pieces in one place have millions.
        let is_apart = |other: &Box2| {
            let along = other.x0 - piece.x1 >= saw.crosscut_kerf || piece.x0 - other.x1 >= saw.crosscut_kerf;
            along || other.y0 - piece.y1 >= saw.rip_kerf || piece.y0 - other.y1 >= saw.rip_kerf
        };
        if let Some(other) = pieces[..number].iter().position(|other| !is_apart(other)) {
            let other = &board.pieces[other];
            report(format!("has no kerf between {name} and {} / {}", other.product, other.part));
        }
    }
    for (offcut, entry) in offcuts.iter().zip(&board.offcuts) {
        let keeps = offcut.length() >= saw.keep.0 && offcut.width() >= saw.keep.1;
        if entry.keep != keeps {
            report("has an offcut whose keep does not follow the shop's least sizes".to_string());
        }
    }
    let sheet = Quarter::parse(&board.quarter).filter(|_| is_sheet);
    let strip_is_light = |across: Length, rip_first: bool| {
        let run = if rip_first { usable.length() } else { usable.width() };
        sheet.is_none_or(|class| is_light(shop, class, Area::of(across, run)))
    };
    check_stages(board, &pieces, saw.stages, &strip_is_light, &mut report);
    if board.cuts.is_empty() && pieces.is_empty() {
        let left = if usable.is_empty() { Vec::new() } else { vec![usable] };
        if offcuts != left {
            report("is not cut, yet its offcuts are not its usable rectangle".to_string());
        }
        return Replay::default();
    }
    sawn(board, [whole, usable], (&saw, unit), pieces, offcuts, &mut report)
}

/// What comes off each end and each edge of a board before it is cut up.
pub fn trims(shop: &Shop, is_sheet: bool, trimmed: bool) -> (Length, Length) {
    match (trimmed, is_sheet) {
        (true, _) => (Length::ZERO, Length::ZERO),
        (false, true) => (shop.sheet_saw.trim, shop.sheet_saw.trim),
        (false, false) => (shop.milling.end_trim, shop.milling.edge_trim),
    }
}

/// Does one person lift so much of a sheet? It weighs by the shop's density, and by its thickness as it is called.
pub fn is_light(shop: &Shop, sheet: Quarter, area: Area) -> bool {
    let most = shop.sheet_saw.max_strip_weight;
    let volume = area.times(sheet.rough());
    let measures = match shop.unit {
        Unit::Inch => volume.board_feet() / BigInt::from(12),
        Unit::Millimetre => volume.cubic_metres(),
    };
    most.is_zero() || measures * shop.sheet_saw.density.to_ratio() <= most.to_ratio()
}

/// What is known of the saw that cuts a board.
struct SawRules {
    rip_kerf: Length,
    crosscut_kerf: Length,
    stages: u8,
    /// No piece is trimmed once its strip is cut up.
    exact: bool,
    /// Least length and width of an offcut that is kept.
    keep: (Length, Length),
}

impl SawRules {
    fn of(shop: &Shop, is_sheet: bool) -> SawRules {
        if is_sheet {
            let saw = &shop.sheet_saw;
            let least = shop.offcuts.keep_sheet;
            return SawRules {
                rip_kerf: saw.kerf,
                crosscut_kerf: saw.kerf,
                stages: saw.stages,
                exact: saw.exact && saw.stages < 3,
                keep: (least, least),
            };
        }
        SawRules {
            rip_kerf: shop.saw.rip_kerf,
            crosscut_kerf: shop.saw.crosscut_kerf,
            stages: shop.saw.stages,
            exact: false,
            keep: (shop.offcuts.keep_length, shop.offcuts.keep_width),
        }
    }
}

fn of_defect(defect: &Defect) -> Box2 {
    Box2 { x0: defect.x0, x1: defect.x1, y0: defect.y0, y1: defect.y1 }
}

/// The cut after which a part can be divided.
#[derive(Debug, Clone, Copy, Default)]
struct Freed {
    /// The one that bounds it.
    by: Option<usize>,
    /// For cuts that run the same way: what lies beyond a cut may be cut first.
    alike: Option<usize>,
    /// How often the direction of the cuts that freed it changed, the first one counted.
    stage: u8,
}

/// Pieces and offcuts must be exactly what the cuts leave, in two or three stages.
fn sawn(
    board: &BoardEntry,
    [whole, usable]: [Box2; 2],
    (saw, unit): (&SawRules, Unit),
    pieces: Vec<Box2>,
    offcuts: Vec<Box2>,
    report: &mut impl FnMut(String),
) -> Replay {
    let mut replay = Replay::default();
    let mut parts: Vec<(Box2, Freed)> = vec![(whole, Freed::default())];
    for (number, cut) in board.cuts.iter().enumerate() {
        let at = |value: f64| exact(value, unit);
        let kerf = Box2 { x0: at(cut.x0), x1: at(cut.x1), y0: at(cut.y0), y1: at(cut.y1) };
        if cut.step != number as u32 + 1 {
            report(format!("has step {} where step {} is due", cut.step, number + 1));
        }
        let Some(found) = part_of_cut(&kerf, &parts) else {
            report(format!("has cut {} outside every part that is left", cut.step));
            continue;
        };
        let (part, freed) = parts.swap_remove(found);
        let Some((near, far, is_crosscut)) = divided(cut, &kerf, part, &usable, saw, report) else {
            continue;
        };
        let is_trim = cut.kind == "trim";
        let this = replay.cuts.len();
        let is_alike = freed.by.is_some_and(|by| replay.cuts[by].is_crosscut == is_crosscut);
        let after = if is_alike { freed.alike } else { freed.by };
        replay.cuts.push(Seen { after, freed: near, is_crosscut, is_trim });
        if is_trim {
            // What is outside the usable rectangle falls away.
            let left = [near, far].into_iter().filter(|rest| !rest.is_empty() && rest.meets(&usable));
            parts.extend(left.map(|rest| (rest, freed)));
            continue;
        }
        replay.kerf.push(kerf);
        let stage = if is_alike { freed.stage } else { freed.stage.saturating_add(1) };
        let by = Freed { by: Some(this), alike: Some(this), stage };
        let left = [(near, by), (far, Freed { alike: after, ..by })];
        let left = left.into_iter().filter(|(rest, _)| !rest.is_empty());
        parts.extend(left);
    }
    let is_trimmed = |(part, freed): &(Box2, Freed)| freed.stage > 2 && pieces.contains(part);
    if saw.exact && parts.iter().any(is_trimmed) {
        report("has a piece that is trimmed, which the saw for sheets does not do".to_string());
    }
    let mut listed: Vec<Box2> = pieces.into_iter().chain(offcuts).collect();
    listed.sort_unstable();
    let mut parts: Vec<Box2> = parts.into_iter().map(|(part, _)| part).collect();
    parts.sort_unstable();
    if listed != parts {
        report("has pieces and offcuts that are not what its cuts leave".to_string());
    }
    replay
}

/// What a cut leaves of a part on its near and on its far side, and whether it is a crosscut; `None` for a cut of an
/// unknown kind.
fn divided(
    cut: &CutEntry,
    kerf: &Box2,
    part: Box2,
    usable: &Box2,
    saw: &SawRules,
    report: &mut impl FnMut(String),
) -> Option<(Box2, Box2, bool)> {
    let across = kerf.y0 == part.y0 && kerf.y1 == part.y1;
    let along = kerf.x0 == part.x0 && kerf.x1 == part.x1;
    let is_crosscut = match cut.kind.as_str() {
        "crosscut" => true,
        "rip" => false,
        "trim" => across && (kerf.x1 <= usable.x0 || kerf.x0 >= usable.x1),
        other => {
            report(format!("has a cut of the unknown kind \"{other}\""));
            return None;
        }
    };
    if !(if is_crosscut { across } else { along }) {
        report(format!("has cut {} that does not go from side to side", cut.step));
    }
    let (near, far, eaten, due) = if is_crosscut {
        let (near, far) = (Box2 { x1: kerf.x0, ..part }, Box2 { x0: kerf.x1, ..part });
        (near, far, kerf.length(), saw.crosscut_kerf)
    } else {
        let (near, far) = (Box2 { y1: kerf.y0, ..part }, Box2 { y0: kerf.y1, ..part });
        (near, far, kerf.width(), saw.rip_kerf)
    };
    // The blade may stand partly outside the wood, on either side.
    let runs_out = near.is_empty() || far.is_empty();
    if eaten > due || (eaten < due && !runs_out) {
        report(format!("has cut {} that does not take one kerf", cut.step));
    }
    Some((near, far, is_crosscut))
}

/// The part that a cut goes through, by its place in the list. A blade without kerf leaves a line, and a line
/// may lie on the border of two parts. The part that is divided is then the one.
fn part_of_cut(kerf: &Box2, parts: &[(Box2, Freed)]) -> Option<usize> {
    let divides = |part: &Box2| {
        let across = kerf.y0 == part.y0 && kerf.y1 == part.y1 && part.x0 < kerf.x1 && kerf.x0 < part.x1;
        let along = kerf.x0 == part.x0 && kerf.x1 == part.x1 && part.y0 < kerf.y1 && kerf.y0 < part.y1;
        across || along
    };
    let holds = |part: &Box2| kerf.inside(part) && kerf.x0 <= kerf.x1 && kerf.y0 <= kerf.y1;
    let mut holding = parts.iter().enumerate().filter(|(_, (part, _))| holds(part));
    let first = holding.clone().next();
    holding.find(|(_, (part, _))| divides(part)).or(first).map(|(place, _)| place)
}

/// Strips, cells and pieces, found from where the pieces lie. `is_light` tells whether one person lifts a strip.
fn check_stages(
    board: &BoardEntry,
    pieces: &[Box2],
    stages: u8,
    is_light: &dyn Fn(Length, bool) -> bool,
    report: &mut impl FnMut(String),
) {
    let rip_first = match board.layout.as_str() {
        "rip-first" => true,
        "crosscut-first" => false,
        other => {
            report(format!("has the unknown layout \"{other}\""));
            return;
        }
    };
    let strip_span = |piece: &Box2| if rip_first { (piece.y0, piece.y1) } else { (piece.x0, piece.x1) };
    let cell_span = |piece: &Box2| if rip_first { (piece.x0, piece.x1) } else { (piece.y0, piece.y1) };
    for strip in clusters(pieces.to_vec(), &strip_span) {
        let from = strip.iter().map(|piece| strip_span(piece).0).min().unwrap_or_default();
        let to = strip.iter().map(|piece| strip_span(piece).1).max().unwrap_or_default();
        if !is_light(to.saturating_sub(from), rip_first) {
            report("has a strip that is heavier than one person lifts".to_string());
        }
        for cell in clusters(strip, &cell_span) {
            if cell.len() == 1 {
                continue;
            }
            let run = cell_span(&cell[0]);
            let stacked = cell.iter().all(|piece| cell_span(piece) == run);
            if stages < 3 || !stacked {
                report(format!("is not {} in {} stages", board.layout, stages));
                return;
            }
        }
    }
}

/// Groups of boxes whose spans overlap.
fn clusters(mut boxes: Vec<Box2>, span: &impl Fn(&Box2) -> (Length, Length)) -> Vec<Vec<Box2>> {
    boxes.sort_by_key(|one| span(one));
    let mut groups: Vec<Vec<Box2>> = Vec::new();
    let mut reach = None;
    for one in boxes {
        let (from, to) = span(&one);
        match groups.last_mut() {
            Some(group) if reach.is_some_and(|reach| from < reach) => {
                group.push(one);
                reach = reach.max(Some(to));
            }
            _ => {
                groups.push(vec![one]);
                reach = Some(to);
            }
        }
    }
    groups
}
