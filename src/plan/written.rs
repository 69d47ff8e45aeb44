//! A plan as `plan.json` writes it.

use super::bought::{Buy, Confidence, Cost};
use super::edging::{Edging, Rolls};
use super::model::{Board, Joined, Made, Offcut, PartCount, PlacedPiece, Plan, SawCut, Setup, Waste};
use super::set_count::{MatchingCost, SetCount};
use super::work::{Purpose, Reserved};
use crate::document::*;
use crate::index::LineIndex;
use crate::job::{Edges, Job, LeastBoard, Part, StillNeeded};
use crate::measure::{Length, Unit, Volume};
use crate::trade::Defect;
use crate::trade::drilling::Screw;

impl Plan {
    /// What is written of the plan of a job.
    pub fn document(&self, job: &Job) -> Document {
        Document {
            format: FORMAT.to_string(),
            unit: self.unit.name().to_string(),
            currency: self.currency.clone(),
            status: self.status.name().to_string(),
            turns: self.is_cut_short().then_some(self.searched.turns),
            not_repeatable: self.is_cut_short() && !self.searched.repeatable,
            cost: cost_entry(&self.cost),
            buy: self.buy.iter().map(|row| buy_entry(row, self.unit)).collect(),
            boards: self.boards.iter().map(|board| board_entry(board, job, self.unit)).collect(),
            parts: self.parts.iter().map(|count| part_entry(count, job, self.unit)).collect(),
            confidence: self.confidence.as_ref().map(|confidence| confidence_entry(self, confidence)),
            left_out: job.left_out.iter().map(ToString::to_string).collect(),
            still_needed: self.still_needed.iter().map(|open| still_needed_entry(job, open)).collect(),
            waste: waste_entry(&self.waste),
            sheet_waste: self.has_sheets().then(|| sheet_waste_entry(&self.sheet_waste)),
            edging: self.edging.iter().map(|edging| edging_entry(edging, self.unit)).collect(),
            setups: self.setups.iter().map(|setup| setup_entry(setup, job, self.unit)).collect(),
            work: work_entry(self, job),
            sets: self.sets.iter().map(set_entry).collect(),
            matching: self.matching.as_ref().map(matching_entry),
            settings_order: self.order.iter().map(|made| made_entry(made, self)).collect(),
            settings_made: self.settings_made.0,
            settings_made_before: self.settings_made.1,
            settings_by_layout: self.settings_by_layout.0,
            settings_by_layout_before: self.settings_by_layout.1,
            settings_by_board: self.settings_by_board,
        }
    }
}

fn set_entry(count: &SetCount) -> SetEntry {
    SetEntry {
        product: count.set.product.clone(),
        set: count.set.name.clone(),
        panel: count.set.is_panel,
        pieces: count.set.pieces(),
        wanted: count.set.wanted,
        whole: count.whole,
    }
}

fn matching_entry(matching: &MatchingCost) -> MatchingEntry {
    MatchingEntry { whole: matching.whole, cost: matching.cost.to_string(), paid: matching.is_paid }
}

fn cost_entry(cost: &Cost) -> CostEntry {
    CostEntry {
        lumber: cost.lumber.to_string(),
        delivery: cost.delivery.to_string(),
        rack: cost.rack.to_string(),
        setup: cost.setup.to_string(),
        offcut_credit: cost.offcut_credit.to_string(),
        edging: (!cost.edging.is_zero()).then(|| cost.edging.to_string()),
        total: cost.total.to_string(),
        lower_bound: cost.lower_bound.to_string(),
        gap_percent: cost.gap_percent,
    }
}

fn buy_entry(row: &Buy, unit: Unit) -> BuyEntry {
    let length = |length: Length| length.to_f64(unit);
    let sheet = row.sheet.as_ref();
    BuyEntry {
        supplier: row.supplier.clone(),
        species: row.species.clone(),
        quarter: row.quarter.to_string(),
        grade: row.grade.to_string(),
        width: length(row.width),
        length: length(row.length),
        grain: sheet.map(|sheet| sheet.grain.name().to_string()),
        core: sheet.map_or(String::new(), |sheet| sheet.core.clone()),
        real: sheet.and_then(|sheet| sheet.real).map(length),
        square_feet: sheet.map(|_| row.square_feet()),
        width_to: row.upper.map(|(_, width)| length(width)),
        length_to: row.upper.map(|(long, _)| length(long)),
        boards: row.boards,
        board_feet: row.board_feet.board_feet_f64(),
        price: row.price.price(),
        per: row.per.name().to_string(),
        percent_off: row.percent_off.price(),
        cost: row.cost.to_string(),
    }
}

fn board_entry(board: &Board, job: &Job, unit: Unit) -> BoardEntry {
    let length = |length: Length| length.to_f64(unit);
    // Those of the rack are the job's own.
    let defects = if board.drawn { &board.defects[..] } else { &[] };
    BoardEntry {
        id: board.id.clone(),
        source: board.source.label(),
        copies: board.copies,
        layout: board.layout.name().to_string(),
        length: length(board.length),
        width: length(board.width),
        trimmed: board.trimmed,
        drawn: board.drawn,
        defects: defects.iter().map(|defect| defect_entry(defect, unit)).collect(),
        quarter: board.quarter.to_string(),
        grain: board.sheet.as_ref().map(|sheet| sheet.grain.name().to_string()),
        pieces: board.pieces.iter().map(|piece| piece_entry(piece, job, unit)).collect(),
        offcuts: board.offcuts.iter().map(|offcut| offcut_entry(offcut, unit)).collect(),
        cuts: board.cuts.iter().map(|cut| cut_entry(cut, unit)).collect(),
        along_with: board.along_with.clone(),
        mill_joined: board.joined.iter().map(|joined| joined_entry(joined, job, unit)).collect(),
    }
}

fn defect_entry(defect: &Defect, unit: Unit) -> DefectEntry {
    let [x0, x1, y0, y1] = [defect.x0, defect.x1, defect.y0, defect.y1].map(|at| at.to_f64(unit));
    DefectEntry { x0, x1, y0, y1, kind: defect.kind.name().to_string() }
}

fn piece_entry(piece: &PlacedPiece, job: &Job, unit: Unit) -> PieceEntry {
    let part = &job.parts[piece.part];
    let [x, y, length, width] =
        [piece.x, piece.y, piece.length, piece.width].map(|length| length.to_f64(unit));
    PieceEntry {
        product: part.product.clone(),
        part: part.part.clone(),
        x,
        y,
        length,
        width,
        turned: piece.turned,
        blanks: piece.blanks,
    }
}

fn offcut_entry(offcut: &Offcut, unit: Unit) -> OffcutEntry {
    let [x, y, length, width] =
        [offcut.x, offcut.y, offcut.length, offcut.width].map(|length| length.to_f64(unit));
    OffcutEntry { x, y, length, width, keep: offcut.keep }
}

fn cut_entry(cut: &SawCut, unit: Unit) -> CutEntry {
    let [x0, y0, x1, y1] = [cut.x0, cut.y0, cut.x1, cut.y1].map(|at| at.to_f64(unit));
    CutEntry { step: cut.step, kind: cut.kind.name().to_string(), x0, y0, x1, y1 }
}

fn joined_entry(joined: &Joined, job: &Job, unit: Unit) -> JoinedEntry {
    let Part { product, part, .. } = &job.parts[joined.part];
    let length = joined.length.to_f64(unit);
    JoinedEntry { product: product.clone(), part: part.clone(), before_step: joined.before_step, length }
}

fn part_entry(count: &PartCount, job: &Job, unit: Unit) -> PartEntry {
    let (part, length) = (&job.parts[count.part], |length: Length| length.to_f64(unit));
    PartEntry {
        product: count.product.clone(),
        part: count.name.clone(),
        required: count.required,
        cut: count.cut,
        edges: edges_entry(part, length),
        glued: glued_entry(part, length),
    }
}

fn edging_entry(edging: &Edging, unit: Unit) -> EdgingEntry {
    EdgingEntry {
        species: edging.species.clone(),
        sheet: edging.sheet.to_f64(unit),
        thickness: edging.thickness.to_f64(unit),
        edges: edging.edges,
        length: edging.length.to_f64(unit),
        rolls: edging.rolls.iter().map(|rolls| rolls_entry(rolls, unit)).collect(),
    }
}

fn rolls_entry(rolls: &Rolls, unit: Unit) -> RollsEntry {
    RollsEntry { length: rolls.length.to_f64(unit), rolls: rolls.rolls, cost: rolls.cost.to_string() }
}

fn setup_entry(setup: &Setup, job: &Job, unit: Unit) -> SetupEntry {
    SetupEntry {
        kind: setup.kind.name().to_string(),
        setting: setup.setting.to_f64(unit),
        fence_reading: setup.fence_reading(&job.shop.saw).to_f64(unit),
        station: setup.station.map(|station| station.name().to_string()),
        cuts: setup.cuts,
        boards: setup.boards.clone(),
        beyond_reach: setup.beyond_reach,
        narrow: setup.narrow,
    }
}

fn made_entry(made: &Made, plan: &Plan) -> MadeEntry {
    MadeEntry {
        kind: made.kind.name().to_string(),
        setting: made.setting.to_f64(plan.unit),
        boards: made.boards.iter().map(|board| plan.boards[*board].id.clone()).collect(),
    }
}

fn edges_entry(part: &Part, length: impl Fn(Length) -> f64) -> Option<[f64; 4]> {
    let edges = part.sheet.as_ref()?.edges;
    (edges != Edges::default()).then(|| edges.0.map(length))
}

fn glued_entry(part: &Part, length: impl Fn(Length) -> f64) -> Option<GluedEntry> {
    Some(GluedEntry {
        kind: part.blank.make.name()?.to_string(),
        pieces: part.blank.make.pieces(),
        parts: part.required,
        width: length(part.width),
        thickness: length(part.thickness),
        piece_width: length(part.blank.width),
        piece_thickness: length(part.blank.thickness),
    })
}

fn still_needed_entry(job: &Job, open: &StillNeeded) -> StillNeededEntry {
    let part = &job.parts[open.part];
    let least = LeastBoard::of(&job.shop, part);
    let length = |length: Length| length.to_f64(job.shop.unit);
    StillNeededEntry {
        product: part.product.clone(),
        part: part.part.clone(),
        parts: open.parts,
        blanks: open.blanks(job),
        species: part.species.clone(),
        quarter: least.quarter.map(|quarter| quarter.to_string()),
        grade: part.grade.to_string(),
        least_width: length(least.width),
        least_length: length(least.length),
        board_feet: open.board_feet(job),
        reason: open.reason.clone(),
    }
}

fn purpose_entry(purpose: &Purpose) -> PurposeEntry {
    match purpose {
        Purpose::TestPiece { species } => PurposeEntry {
            purpose: "test-piece".to_string(),
            species: Some(species.clone()),
            product: None,
            part: None,
        },
        Purpose::Backer { product, part } => PurposeEntry {
            purpose: "backer".to_string(),
            species: None,
            product: Some(product.clone()),
            part: Some(part.clone()),
        },
    }
}

fn work_entry(plan: &Plan, job: &Job) -> WorkEntry {
    let length = |length: Length| length.to_f64(plan.unit);
    let reserved = |reserved: &Reserved| {
        let board = &plan.boards[reserved.board];
        let offcut = &board.offcuts[reserved.offcut];
        ReservedEntry {
            purpose: purpose_entry(&reserved.purpose),
            board: board.id.clone(),
            x: length(offcut.x),
            y: length(offcut.y),
            length: length(offcut.length),
            width: length(offcut.width),
        }
    };
    let drilling = plan.work.drilling.iter().map(|drilling| DrillingEntry {
        product: drilling.product.clone(),
        part: drilling.part.clone(),
        bit: drilling.bit.map(length),
        kind: drilling.kind.name().to_string(),
        gauge: drilling.kind.screw().and_then(Screw::gauge),
        screw: drilling.kind.screw().and_then(Screw::diameter).map(length),
        pieces: drilling.pieces,
        holes: drilling.holes,
        depth: drilling.depth.map(length),
        countersink: drilling.countersink,
        plug: drilling.plug.map(|plug| length(plug.diameter)),
        plug_depth: drilling.plug.map(|plug| length(plug.depth)),
    });
    let finishing = plan.work.finishing.iter().map(|finishing| FinishingEntry {
        product: finishing.product.clone(),
        grits: finishing.grits.clone(),
        finish: finishing.film.name().to_string(),
        coats: finishing.coats,
        finish_faces: Some(finishing.faces.name().to_string()),
        area: (finishing.area * 100.0).round() / 100.0,
        quantity: finishing.quantity,
    });
    let movement = plan.work.movement.iter().map(|movement| {
        let part = &job.parts[movement.part];
        let moves = |place: usize| {
            movement.by_cut.map(|by_cut| MovesEntry {
                swells: length(by_cut[place].swells),
                shrinks: length(by_cut[place].shrinks),
            })
        };
        MovementEntry {
            product: part.product.clone(),
            part: part.part.clone(),
            width: length(part.width),
            flat_sawn: moves(0),
            quarter_sawn: moves(1),
            room: part.captured.map(length),
            is_tight: movement.is_tight,
        }
    });
    WorkEntry {
        movement: movement.collect(),
        drilling: drilling.collect(),
        finishing: finishing.collect(),
        reserved: plan.work.reserved.iter().map(reserved).collect(),
        lacking: plan.work.lacking.iter().map(purpose_entry).collect(),
    }
}

fn confidence_entry(plan: &Plan, confidence: &Confidence) -> ConfidenceEntry {
    let hundredths = |percent: f64| (percent * 100.0).round() / 100.0;
    let row = |line: LineIndex| plan.buy.iter().position(|row| row.line == line);
    let spare = confidence.spares.iter();
    ConfidenceEntry {
        asked_percent: confidence.asked,
        enough_percent: hundredths(confidence.enough),
        low_percent: hundredths(confidence.interval.0),
        high_percent: hundredths(confidence.interval.1),
        lots: confidence.lots,
        curve: confidence
            .curve
            .iter()
            .map(|(feet, percent)| CurveEntry {
                board_feet: hundredths(feet.board_feet_f64()),
                enough_percent: hundredths(*percent),
            })
            .collect(),
        one_board_fewer_percent: confidence.one_fewer.map(hundredths),
        spare: spare
            .filter_map(|spare| Some(SpareEntry { buy: row(spare.line)?, boards: spare.boards }))
            .collect(),
        spare_cost: confidence.cost.to_string(),
    }
}

/// Volumes in millionths of a board foot, shared out so that the five parts add up to the stock to
/// the last digit: the scrap takes what rounding leaves. Stock, parts, kerf, trim, kept offcuts, scrap.
fn shared_out(waste: &Waste) -> [f64; 6] {
    let millionths = Volume::millionths_of_board_foot;
    let stock = millionths(waste.stock);
    let [parts, kerf, trim, kept] = [waste.parts, waste.kerf, waste.trim, waste.kept_offcuts].map(millionths);
    let scrap = stock - parts - kerf - trim - kept;
    [stock, parts, kerf, trim, kept, scrap].map(|millionths| millionths as f64 / 1_000_000.0)
}

fn waste_entry(waste: &Waste) -> WasteEntry {
    let [stock_bf, parts_bf, kerf_bf, trim_bf, kept_offcuts_bf, scrap_bf] = shared_out(waste);
    let finished = waste.finished.millionths_of_board_foot() as f64 / 1_000_000.0;
    WasteEntry {
        stock_bf,
        parts_bf,
        kerf_bf,
        trim_bf,
        kept_offcuts_bf,
        scrap_bf,
        finished_bf: Some(finished),
    }
}

/// A sheet counts as an inch thick, so that its board feet are its square feet.
fn sheet_waste_entry(waste: &Waste) -> SheetWasteEntry {
    let [stock_ft2, parts_ft2, kerf_ft2, trim_ft2, kept_offcuts_ft2, scrap_ft2] = shared_out(waste);
    SheetWasteEntry { stock_ft2, parts_ft2, kerf_ft2, trim_ft2, kept_offcuts_ft2, scrap_ft2 }
}
