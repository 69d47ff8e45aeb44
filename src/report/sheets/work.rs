//! Tables of the work beside the sawing: gluing, resawing, drilling, finishing, movement, and parts made by hand.

use std::collections::BTreeMap;

use serde::Serialize;

use super::cover::in_runs;
use super::sizes::shown;
use super::ticked::Table;
use crate::index::BoardIndex;
use crate::job::{Fit, HoleKind, Job, Make, Part};
use crate::measure::{Length, Unit};
use crate::plan::{
    Drilling, FinalSetting, Finishing, Movement, Moves, OfSeveral, Plan, Purpose, Resawing, Reserved,
    SetCount, SetupKind, final_settings, resawing,
};
use crate::report::table::Align::{Left, Right};
use crate::trade::drilling::Screw;
use crate::trade::finish::{Faces, tin_sizes, tins};

#[derive(Serialize)]
pub struct MovementView {
    pub part: String,
    pub width: String,
    /// Flat-sawn and quarter-sawn.
    pub swells: [String; 2],
    pub shrinks: [String; 2],
    pub is_tight: bool,
    pub note: String,
}

pub fn glued(plan: &Plan, job: &Job) -> Table {
    let size = |sizes: [Length; 3]| sizes.map(|length| shown(length, plan.unit)).join(" x ");
    let view = |part: &Part| {
        let how = match part.blank.make {
            Make::Whole => return None,
            Make::Panel(_) => "strips edge to edge",
            Make::Lamination(_) => "layers face to face",
        };
        let blank = &part.blank;
        Some([
            format!("{} / {}", part.product, part.part),
            part.required.to_string(),
            blank.make.pieces().to_string(),
            size([blank.cut_length, blank.cut_width, blank.thickness]),
            size([part.length, blank.width, blank.thickness]),
            size([part.length, part.width, part.thickness]),
            how.to_string(),
        ])
    };
    let heads = [
        ("Part", Left),
        ("Parts", Right),
        ("Pieces in each", Right),
        ("Pieces cut at", Right),
        ("Pieces milled to", Right),
        ("Part", Right),
        ("How", Left),
    ];
    Table::new(heads, job.parts.iter().filter_map(view))
}

/// Sets of matched pieces and panels, with the boards that give whole ones.
pub fn sets(plan: &Plan) -> Table {
    let view = |count: &SetCount| {
        let set = &count.set;
        let what = if set.is_panel { "strips of a panel" } else { "matched" };
        let id = |board: &BoardIndex| plan.boards[*board].id.as_str();
        let from = count.from.iter().map(|(board, _)| id(board));
        let together = |several: &OfSeveral| {
            let boards = several.boards.iter().map(id).collect::<Vec<_>>().join(" + ");
            if several.sets > 1 { format!("{} sets, each {boards}", several.sets) } else { boards }
        };
        [
            format!("{} / {}", set.product, set.name),
            what.to_string(),
            set.pieces().to_string(),
            set.wanted.to_string(),
            count.whole.to_string(),
            in_runs(from),
            count.of_several.iter().map(together).collect::<Vec<_>>().join("; "),
        ]
    };
    let heads = [
        ("Set", Left),
        ("What", Left),
        ("Pieces in each", Right),
        ("Wanted", Right),
        ("Whole from one board", Right),
        ("Boards", Left),
        ("The others together", Left),
    ];
    // Boards that nobody has seen come differently.
    let told = plan.sets.iter().filter(|_| !plan.has_drawn_boards());
    Table::new(heads, told.map(view))
}

pub fn resawn(plan: &Plan, job: &Job) -> Table {
    let view = |resawn: Resawing| {
        let part = &job.parts[resawn.part];
        let name = format!("{} / {}", part.product, part.part);
        let (setting, thickness) = (shown(resawn.setting, plan.unit), shown(part.blank.thickness, plan.unit));
        let (pieces, blanks) = (resawn.pieces.to_string(), resawn.blanks.to_string());
        [name, resawn.quarter.to_string(), pieces, blanks, setting, thickness]
    };
    let heads = [
        ("Part", Left),
        ("Class", Right),
        ("Pieces", Right),
        ("Blanks of each", Right),
        ("Fence to blade", Right),
        ("Blank milled to", Right),
    ];
    Table::new(heads, resawing(plan, job).into_iter().map(view))
}

/// The last settings of all: second edges, then ends.
pub fn final_sizes(plan: &Plan, job: &Job) -> Table {
    let saw = &job.shop.saw;
    let view = |setting: FinalSetting| {
        let size = shown(setting.size, plan.unit);
        let (at, reading) = match (setting.kind, saw.station(setting.size)) {
            (SetupKind::Stop, _) if setting.is_glued => ("sled or guided saw", String::new()),
            (SetupKind::Stop, Some(station)) => {
                (station.words(), shown(station.reading(saw.standoff_block, setting.size), plan.unit))
            }
            (SetupKind::Stop, None) => ("by the line", String::new()),
            _ if saw.rips_beyond_reach(setting.size) => ("another tool", String::new()),
            _ if setting.size < job.shop.safety.narrowest_rip => ("planer, on edge", String::new()),
            _ => ("rip fence", size.clone()),
        };
        let parts = setting.parts.iter().map(|(part, count)| {
            let part = &job.parts[*part];
            format!("{} / {}: {count}", part.product, part.part)
        });
        [at.to_string(), size, reading, parts.collect::<Vec<_>>().join(", ")]
    };
    let heads = [("At", Left), ("Cut to", Right), ("Scale reads", Right), ("Parts", Left)];
    Table::new(heads, final_settings(plan, job).into_iter().map(view))
}

/// Holes by bit, counterbores first.
pub fn drilling(plan: &Plan) -> Table {
    let row = |drilling: &Drilling, bit: String, what: String, depth: Option<Length>, note: &str| {
        let part = format!("{} / {}", drilling.product, drilling.part);
        let depth = match depth {
            Some(depth) => format!("stop at {}", shown(depth, plan.unit)),
            None => "through, on a backer".to_string(),
        };
        let (pieces, holes) = (drilling.pieces.to_string(), drilling.holes.to_string());
        [bit, what, part, pieces, holes, depth, note.to_string()]
    };
    let view = |drilling: &Drilling| {
        let bit = drilling.bit.map_or("?".to_string(), |bit| shown(bit, plan.unit));
        let what = match drilling.kind {
            HoleKind::Lead(screw) => format!("lead hole, {}", named(screw)),
            HoleKind::Clearance(screw) => format!("clearance, {}", named(screw)),
            HoleKind::Plain(_) => "hole".to_string(),
        };
        let note = match (drilling.bit, drilling.countersink) {
            (None, _) => "specific gravity not known: give it in shop.toml, [wood] gravity",
            (Some(_), true) => "countersink",
            (Some(_), false) => "",
        };
        row(drilling, bit, what, drilling.depth, note)
    };
    let counterbore = |drilling: &Drilling| {
        let plug = drilling.plug?;
        let what = "counterbore for a plug".to_string();
        Some(row(drilling, shown(plug.diameter, plan.unit), what, Some(plug.depth), ""))
    };
    let heads = [
        ("Bit", Right),
        ("For", Left),
        ("Part", Left),
        ("Pieces", Right),
        ("Holes in each", Right),
        ("Depth", Left),
        ("Note", Left),
    ];
    // Its point leaves the centre for the screw's own bit.
    let mut counterbored: Vec<&Drilling> =
        plan.work.drilling.iter().filter(|one| one.plug.is_some()).collect();
    counterbored.sort_by_key(|one| one.plug.map(|plug| (plug.diameter, plug.depth)));
    let first = counterbored.into_iter().filter_map(counterbore);
    Table::new(heads, first.chain(plan.work.drilling.iter().map(view)))
}

/// Plugs to cut or to buy, by size and wood.
pub fn plugs(plan: &Plan, job: &Job) -> Table {
    let mut plugs: BTreeMap<(Length, Length, &str), u64> = BTreeMap::new();
    for drilling in &plan.work.drilling {
        let is_of = |part: &&Part| (&part.product, &part.part) == (&drilling.product, &drilling.part);
        if let (Some(plug), Some(part)) = (drilling.plug, job.parts.iter().find(is_of)) {
            let count = plugs.entry((plug.diameter, plug.depth, &part.species)).or_insert(0);
            *count = count.saturating_add(drilling.pieces.saturating_mul(drilling.holes));
        }
    }
    let view = |((diameter, depth, species), count): ((Length, Length, &str), u64)| {
        [shown(diameter, plan.unit), shown(depth, plan.unit), species.to_string(), count.to_string()]
    };
    let heads = [("Plug", Right), ("At least as long as", Right), ("Wood", Left), ("Plugs", Right)];
    Table::new(heads, plugs.into_iter().map(view))
}

/// How much wide parts move, as a page says it.
pub fn movement(plan: &Plan, job: &Job) -> Vec<MovementView> {
    let view = |movement: &Movement| {
        let part = &job.parts[movement.part];
        let pair = |place: usize, of: fn(&Moves) -> Length| {
            movement.by_cut.map_or("?".to_string(), |by_cut| shown(of(&by_cut[place]), plan.unit))
        };
        let note = match (movement.by_cut, part.captured, movement.is_tight) {
            (None, ..) => format!("no coefficient of {} is known", part.species),
            (_, Some(room), true) => format!("too tight: it has {} of room", shown(room, plan.unit)),
            (_, Some(room), false) => format!("{} of room in its frame", shown(room, plan.unit)),
            (_, None, _) => String::new(),
        };
        MovementView {
            part: format!("{} / {}", part.product, part.part),
            width: shown(part.width, plan.unit),
            swells: [pair(0, |moves| moves.swells), pair(1, |moves| moves.swells)],
            shrinks: [pair(0, |moves| moves.shrinks), pair(1, |moves| moves.shrinks)],
            is_tight: movement.is_tight,
            note,
        }
    };
    plan.work.movement.iter().map(view).collect()
}

fn named(screw: Screw) -> String {
    match screw {
        Screw::Gauge(gauge) => format!("number {gauge} screw"),
        Screw::Diameter(diameter) => format!("{} mm screw", diameter.display(Unit::Millimetre)),
    }
}

pub fn finishing(plan: &Plan) -> Table {
    let (area_unit, measure) = match plan.unit {
        Unit::Inch => ("sq ft", "qt"),
        Unit::Millimetre => ("m2", "l"),
    };
    let view = |finishing: &Finishing| {
        let grits: Vec<String> = finishing.grits.iter().map(u16::to_string).collect();
        let quantity = finishing.quantity.map_or("see the label".to_string(), |quantity| {
            let tins = tins(quantity, plan.unit).into_iter().zip(tin_sizes(plan.unit));
            let named =
                tins.filter(|(many, _)| *many > 0).map(|(many, (_, name))| format!("{many} x {name}"));
            format!("{quantity:.1} {measure}: {}", named.collect::<Vec<_>>().join(", "))
        });
        let area = format!("{:.1} {area_unit}, {}", finishing.area, faces(finishing.faces));
        let (film, coats) = (finishing.film.name().to_string(), finishing.coats.to_string());
        [finishing.product.clone(), grits.join(", "), film, coats, area, quantity]
    };
    let heads = [
        ("Product", Left),
        ("Grits", Left),
        ("Finish", Left),
        ("Coats", Right),
        ("Area", Right),
        ("Finish to buy", Right),
    ];
    Table::new(heads, plan.work.finishing.iter().map(view))
}

fn faces(faces: Faces) -> &'static str {
    match faces {
        Faces::All => "all faces",
        Faces::Show => "show face and edges",
        Faces::Top => "show face",
    }
}

pub fn purpose(purpose: &Purpose) -> String {
    match purpose {
        Purpose::TestPiece { species } => format!("{species}: try stain and finish on it first"),
        Purpose::Backer { product, part } => format!("backer under {product} / {part}"),
    }
}

pub fn reserved(plan: &Plan) -> Table {
    let view = |reserved: &Reserved| {
        let board = &plan.boards[reserved.board];
        let offcut = &board.offcuts[reserved.offcut];
        let size = format!("{} x {}", shown(offcut.length, plan.unit), shown(offcut.width, plan.unit));
        [purpose(&reserved.purpose), board.id.clone(), size]
    };
    Table::new([("For", Left), ("From board", Left), ("Size", Right)], plan.work.reserved.iter().map(view))
}

/// Parts that are brought to the work after the saw.
pub fn by_hand(plan: &Plan, job: &Job) -> Table {
    let view = |count: &crate::plan::PartCount| {
        let part = &job.parts[count.part];
        let how = match part.fit {
            Fit::Stop => return None,
            Fit::Creep => "creep up on the line in slivers, then set the stop to the finished length",
            Fit::ToWork => "mark from the work, cut on the waste side of the mark",
        };
        let name = format!("{} / {}", part.product, part.part);
        let (cut_at, finished) = (shown(part.blank.cut_length, plan.unit), shown(part.length, plan.unit));
        Some([name, count.cut.to_string(), cut_at, finished, how.to_string()])
    };
    let heads = [("Part", Left), ("Pieces", Right), ("Cut at", Right), ("Finished", Right), ("How", Left)];
    Table::new(heads, plan.parts.iter().filter_map(view))
}

/// Pieces too short to be milled alone, with the least blank that is not.
pub fn short_pieces(plan: &Plan, job: &Job) -> Table {
    let (least, kerf) = (job.shop.safety.min_machined_length, job.shop.saw.crosscut_kerf);
    let view = |count: &crate::plan::PartCount| {
        let part = &job.parts[count.part];
        let length = part.blank.cut_length;
        // Sheets are not milled.
        if length >= least || length == Length::ZERO || part.sheet.is_some() {
            return None;
        }
        let joined = num_integer::div_ceil((least + kerf).base(), (length + kerf).base());
        let blank = (length + kerf) * joined - kerf;
        let name = format!("{} / {}", part.product, part.part);
        let (length, blank) = (shown(length, plan.unit), shown(blank, plan.unit));
        Some([name, count.cut.to_string(), length, joined.to_string(), blank])
    };
    let heads = [
        ("Part", Left),
        ("Pieces", Right),
        ("Length", Right),
        ("Blank of", Right),
        ("Blank's length", Right),
    ];
    Table::new(heads, plan.parts.iter().filter_map(view))
}
