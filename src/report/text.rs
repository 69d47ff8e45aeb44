//! The summary for a person: the buy first, then cost and proven gap, waste, settings.

use super::bought::{buy, rows_of_the_buy, to_ask_for};
use super::measured::{area, unit_of_area, unit_of_volume, volume};
use super::table::{Align, aligned};
use super::words::{hours_at_saws, plural, running, times};
use super::{RenderError, Report};
use crate::job::{Job, Make, Station};
use crate::measure::{Unit, Volume};
use crate::plan::{
    BoardSource, Confidence, Edging, MatchingCost, Movement, Plan, Resawing, Rolls, SetupKind, Waste,
    resawing, saw_loads,
};
use crate::planning::Checked;
use crate::solve::Status;

/// One screen of text, and more where it is asked for.
pub struct Summary<'p>(pub &'p Checked, pub Detail);

/// What is told beside the one screen.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Detail {
    /// The buy board by board, and what is glued and resawn.
    pub boards: bool,
    /// Every setting of the saws, and how the cost and the wood add up.
    pub settings: bool,
}

/// Lines of one screen; the program adds one that says where the files are.
const SCREEN: usize = 23;
/// Dealers, and parts that are left out or too tight, that one screen tells by name at most.
const NAMED: usize = 5;

impl Report for Summary<'_> {
    fn file_name(&self) -> &'static str {
        "summary.txt"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let (plan, job) = (self.0.plan(), self.0.job());
        let hours = hours_at_saws(&saw_loads(self.0.document(), &job.shop));
        let screen = |named: usize| {
            let wood = wood_in_a_line(plan) + &in_short(plan, job, &hours);
            buy(plan, named)
                + &certain(plan)
                + &wood
                + &left_out(plan, job, named)
                + &too_tight(plan, job, named)
        };
        let mut text = screen(NAMED);
        for named in (1..NAMED).rev() {
            if text.lines().count() > SCREEN {
                text = screen(named);
            }
        }
        let mut sections = Vec::new();
        if self.1.boards {
            let sure = plan
                .confidence
                .as_ref()
                .map_or(String::new(), |of| format!("Fresh lots\n  {}\n", confidence(of)));
            sections.extend([
                rows_of_the_buy(plan),
                to_ask_for(plan, job),
                sure,
                resawn(plan, job),
                glued(job),
            ]);
        }
        if self.1.settings {
            sections.extend([cost(plan), wood(plan), settings(plan, job)]);
        }
        for section in sections.iter().filter(|section| !section.is_empty()) {
            text.push_str(&format!("\n{section}"));
        }
        Ok(text.into_bytes())
    }
}

/// What is proven, and what is not known before the boards are seen.
fn certain(plan: &Plan) -> String {
    let mut text = proof(plan);
    if plan.has_drawn_boards() {
        let sure = plan.confidence.as_ref().map_or(String::new(), |of| {
            format!(": {:.0} % of {} fresh lots gave every part", of.enough, of.lots)
        });
        text.push_str(&format!(
            "  Boards are drawn as their grade and size say{sure}.\n  \
             Measure those that come, then plan again at the yard.\n"
        ));
    }
    text
}

/// Cells of the bar that shows where the wood goes.
const BAR: f64 = 50.0;

/// Where the wood goes, as a bar and in percent; waste is what is neither in the parts nor kept.
fn wood_in_a_line(plan: &Plan) -> String {
    let unit = plan.unit;
    let mut text = String::new();
    if plan.tells_lumber() {
        let feet = volume(plan.waste.stock.board_feet_f64(), unit);
        let head = format!("Wood: {feet} {} by true size, bought and from the rack", unit_of_volume(unit));
        text.push_str(&goes(&head, &plan.waste));
    }
    if plan.has_sheets() {
        let feet = area(plan.sheet_waste.stock.board_feet_f64(), unit);
        let head = format!("Sheets: {feet} {}, bought and from the rack", unit_of_area(unit));
        text.push_str(&goes(&head, &plan.sheet_waste));
    }
    text
}

fn goes(head: &str, waste: &Waste) -> String {
    let percent = |volume: Volume| waste.percent(volume);
    let lost = percent(waste.lost());
    let cells = |percent: f64| (percent * BAR / 100.0).round() as usize;
    let (parts, kept) = (cells(percent(waste.parts)), cells(percent(waste.kept_offcuts)));
    let bar = "\u{2588}".repeat(parts) + &"\u{2592}".repeat(kept);
    let bar = format!("{bar:\u{b7}<width$}", width = BAR as usize);
    format!(
        "{head}\n  {bar}\n  {:.1} % parts, {:.1} % kept offcuts, {lost:.1} % waste (kerf {:.1}, trim {:.1}, \
         scrap {:.1})\n",
        percent(waste.parts),
        percent(waste.kept_offcuts),
        percent(waste.kerf),
        percent(waste.trim),
        percent(waste.scrap),
    )
}

/// Settings, gluing and short pieces, a line each.
fn in_short(plan: &Plan, job: &Job, hours: &str) -> String {
    let count = |kind: SetupKind| plan.setups.iter().filter(|setup| setup.kind == kind).count();
    let (rips, stops) = (count(SetupKind::Rip), count(SetupKind::Stop));
    let sheets = count(SetupKind::Sheet);
    let mut of: Vec<String> = Vec::new();
    if plan.has_lumber() || sheets == 0 {
        of.extend([format!("{rips} of the rip fence"), format!("{stops} of a stop")]);
    }
    if sheets > 0 {
        of.push(format!("{sheets} of the sheet saw"));
    }
    let made = times(plan.settings_made);
    let mut text = format!("Settings: {}; made {made} with all boards together\n", of.join(", "));
    if !hours.is_empty() {
        text.push_str(&format!("At the saws, about: {hours}\n"));
    }
    text.push_str(&edges(plan));
    let glued = job.parts.iter().filter(|part| part.blank.make.is_glued() && part.required > 0).count();
    let resawn = resawing(plan, job).len();
    let made = [(glued, "glued from strips or layers"), (resawn, "resawn from thicker pieces")];
    let made: Vec<String> =
        made.iter().filter(|(many, _)| *many > 0).map(|(many, what)| format!("{many} {what}")).collect();
    if !made.is_empty() {
        text.push_str(&format!("Parts: {}\n", made.join(", ")));
    }
    text.push_str(&cost_of_sets(plan).map_or(String::new(), |told| format!("Sets: {told}\n")));
    text + &short_pieces(plan, job)
}

/// Rolls to buy for edging, in words; nothing where nobody says what they cost.
pub fn rolls_of(edging: &Edging, unit: Unit) -> Option<String> {
    let one = |rolls: &Rolls| {
        let are = if rolls.rolls == 1 { "roll" } else { "rolls" };
        format!("{} {are} of {}", rolls.rolls, running(rolls.length, unit))
    };
    let all: Vec<String> = edging.rolls.iter().map(one).collect();
    (!all.is_empty()).then(|| all.join(", "))
}

/// Edging to buy, in a line.
fn edges(plan: &Plan) -> String {
    let one = |edging: &Edging| {
        let thickness = edging.thickness.display(plan.unit);
        let length = running(edging.length, plan.unit);
        let rolls = rolls_of(edging, plan.unit).map_or(String::new(), |rolls| format!(" ({rolls})"));
        format!("{length} of {thickness} on {} {}{rolls}", edging.sheet.display(plan.unit), edging.species)
    };
    let all: Vec<String> = plan.edging.iter().map(one).collect();
    match all.len() {
        0 => String::new(),
        few if few <= NAMED => format!("Edging: {}\n", all.join("; ")),
        many => format!("Edging: {many} kinds; the sheets name them\n"),
    }
}

fn short_pieces(plan: &Plan, job: &Job) -> String {
    let lumber = plan.boards.iter().filter(|board| board.sheet.is_none());
    let mut pieces = lumber.flat_map(|board| &board.pieces);
    let least = job.shop.safety.min_machined_length;
    if !pieces.any(|piece| piece.length < least) {
        return String::new();
    }
    let least = least.display(plan.unit);
    format!(
        "Pieces shorter than {least} are in this plan: mill them as part of a longer piece, never alone.\n"
    )
}

/// What it costs that sets come whole.
pub fn cost_of_sets(plan: &Plan) -> Option<String> {
    let MatchingCost { whole, cost, is_paid } = plan.matching?;
    let sets = if whole == 1 { "1 set comes".to_string() } else { format!("{whole} sets come") };
    let currency = &plan.currency;
    Some(if is_paid {
        format!(
            "{sets} whole from one board: that costs {cost} {currency} more than the cheapest plan found."
        )
    } else {
        format!(
            "With {cost} {currency} more {sets} whole from one board: allow it by [matching] in shop.toml and a wider --gap."
        )
    })
}

/// Parts that nothing on offer gives, and rows that cannot be read, and why.
fn left_out(plan: &Plan, job: &Job, named: usize) -> String {
    let parts = plan.still_needed.iter().map(|open| {
        let part = &job.parts[open.part];
        let why = open.reason.as_deref().unwrap_or("the boards do not give them");
        format!("  {} / {}: {why}\n", part.product, part.part)
    });
    let rows = job.left_out.iter().map(|fault| format!("  {fault}\n"));
    let open: Vec<String> = parts.chain(rows).collect();
    if open.is_empty() {
        return String::new();
    }
    let more = open.len().saturating_sub(named);
    let more =
        if more == 0 { String::new() } else { format!("  and {more} more, named when the plan was made\n") };
    let told: String = open.into_iter().take(named).collect();
    format!("Left out, so that the rest could be planned:\n{told}{more}")
}

/// How sure a buy is to be enough, in a sentence.
pub fn confidence(of: &Confidence) -> String {
    let (low, high) = of.interval;
    let mut text = format!(
        "{:.1} % of {} fresh lots of as many boards gave every part, cut one board at a time (95 % interval {low:.1} to \
         {high:.1}; asked for {})",
        of.enough, of.lots, of.asked
    );
    let spares: u64 = of.spares.iter().map(|spare| spare.boards).sum();
    if spares > 0 {
        text.push_str(&format!("; {spares} spare board{} for {} are in the buy", plural(spares), of.cost));
    }
    if let Some(fewer) = of.one_fewer {
        text.push_str(&format!(", and without the dearest of them it would be {fewer:.1} %"));
    }
    text
}

/// What is proven holds for the boards drawn, where some are.
pub fn for_this_sample(plan: &Plan) -> &'static str {
    match (plan.has_drawn_boards(), &plan.confidence) {
        (false, _) => "",
        (true, Some(confidence)) if !confidence.spares.is_empty() => {
            "for this sample of boards, with its spares, "
        }
        (true, _) => "for this sample of boards, ",
    }
}

fn cost(plan: &Plan) -> String {
    let cost = &plan.cost;
    let mut lines = vec![(if plan.has_sheets() { "lumber and sheets" } else { "lumber" }, cost.lumber)];
    if !cost.delivery.is_zero() {
        lines.push(("delivery", cost.delivery));
    }
    let rack = plan.boards.iter().any(|board| matches!(board.source, BoardSource::Rack(..)));
    if rack {
        lines.push(("rack boards used up", cost.rack));
    }
    if !cost.setup.is_zero() {
        lines.push(("set-up labour", cost.setup));
    }
    if !cost.edging.is_zero() {
        lines.push(("rolls of edging", cost.edging));
    }
    if !cost.offcut_credit.is_zero() {
        lines.push(("less kept offcuts", cost.offcut_credit));
    }
    lines.push(("total", cost.total));
    let widest = lines.iter().map(|(_, amount)| amount.to_string().len()).max().unwrap_or(0);
    let mut text = format!("Cost in {}\n", plan.currency);
    for (name, amount) in lines {
        text.push_str(&format!("  {name:<22}{amount:>widest$}\n"));
    }
    text
}

/// What is proven, in a sentence or two.
fn proof(plan: &Plan) -> String {
    let (cost, sample) = (&plan.cost, for_this_sample(plan));
    let proven = match plan.status {
        Status::Optimal => format!("Proven: {sample}no plan is cheaper.\n"),
        Status::WithinGap => format!(
            "Proven: {sample}no plan costs less than {} (gap {:.2} %).\n",
            cost.lower_bound, cost.gap_percent
        ),
        Status::Stopped => format!(
            "Stopped before the gap asked for: {sample}no plan costs less than {} (gap {:.2} %),\n  \
             so at most {} can still be saved.\n",
            cost.lower_bound,
            cost.gap_percent,
            cost.total - cost.lower_bound
        ),
    };
    let (turns, s) = (plan.searched.turns, plural(plan.searched.turns));
    let what = match plan.status {
        Status::Stopped => "The search",
        Status::Optimal | Status::WithinGap => "The search for fewer settings",
    };
    match (plan.is_cut_short(), plan.searched.repeatable) {
        (false, _) => proven,
        (true, true) => format!(
            "{proven}{what} ended at {turns} turn{s}; --work {turns} gives this plan on any machine.\n"
        ),
        (true, false) => {
            format!("{proven}{what} was cut short: on another run the plan may be another one.\n")
        }
    }
}

fn glued(job: &Job) -> String {
    let unit = job.shop.unit;
    let line = |part: &crate::job::Part| {
        let what = match part.blank.make {
            Make::Whole => return None,
            Make::Panel(_) => format!("strips {} wide", part.blank.width.display(unit)),
            Make::Lamination(_) => format!("layers {} thick", part.blank.thickness.display(unit)),
        };
        let pieces = part.blank.make.pieces();
        Some(format!("  {} / {}: {} of {pieces} {what}\n", part.product, part.part, part.required))
    };
    let lines: String = job.parts.iter().filter_map(line).collect();
    let cheaper = job.shop.glue.where_cheaper;
    if lines.is_empty() {
        let none = "No part is glued; what is proven holds for whole parts.\n";
        return if cheaper { none.to_string() } else { lines };
    }
    let all = job.parts.iter().all(|part| part.blank.of_all_ways || !part.blank.make.is_glued());
    let holds = if all { "every way to glue them" } else { "these pieces" };
    let why = if cheaper {
        "where a board gives no whole part or a dearer one"
    } else {
        "as no board gives these parts whole"
    };
    format!("Glue-ups, {why}; what is proven holds for {holds}\n{lines}")
}

fn resawn(plan: &Plan, job: &Job) -> String {
    let line = |resawn: Resawing| {
        let part = &job.parts[resawn.part];
        format!(
            "  {} / {}: {} piece{} of {} into {} blanks each, fence {} from the blade\n",
            part.product,
            part.part,
            resawn.pieces,
            plural(resawn.pieces),
            resawn.quarter,
            resawn.blanks,
            resawn.setting.display(plan.unit)
        )
    };
    let lines: String = resawing(plan, job).into_iter().map(line).collect();
    if lines.is_empty() { lines } else { format!("Resawing, once the pieces' faces are dressed\n{lines}") }
}

fn wood(plan: &Plan) -> String {
    let unit = plan.unit;
    let mut text = String::new();
    if plan.tells_lumber() {
        let stock = volume(plan.waste.stock.board_feet_f64(), unit);
        let head = format!("Wood: {stock} {} of boards, by class\n", unit_of_volume(unit));
        text.push_str(&shares(&head, &plan.waste, &|feet| volume(feet, unit), "Finished, by volume"));
    }
    if plan.has_sheets() {
        let stock = area(plan.sheet_waste.stock.board_feet_f64(), unit);
        let head = format!("Sheets: {stock} {}\n", unit_of_area(unit));
        text.push_str(&shares(&head, &plan.sheet_waste, &|feet| area(feet, unit), "Finished, with edges"));
    }
    text
}

fn shares(head: &str, waste: &Waste, shown: &dyn Fn(f64) -> String, finished: &'static str) -> String {
    let mut text = head.to_string();
    for (name, part) in waste.shares().into_iter().chain([(finished, waste.finished)]) {
        let name = name.to_lowercase();
        let (feet, share) = (shown(part.board_feet_f64()), waste.percent(part));
        text.push_str(&format!("  {name:<22}{feet:>10}{share:>8.1} %\n"));
    }
    text
}

/// Parts held in a frame without the room to swell.
fn too_tight(plan: &Plan, job: &Job, named: usize) -> String {
    let line = |movement: &Movement| {
        let part = &job.parts[movement.part];
        let (Some(room), Some([flat_sawn, _])) = (part.captured, movement.by_cut) else {
            return String::new();
        };
        format!(
            "Too tight: {} of {} has {} of room in its frame and may swell by {} (flat-sawn).\n",
            part.part,
            part.product,
            room.display(plan.unit),
            flat_sawn.swells.display(plan.unit)
        )
    };
    let tight: Vec<String> = plan.work.movement.iter().filter(|one| one.is_tight).map(line).collect();
    let more = match tight.len().saturating_sub(named) {
        0 => String::new(),
        more => format!("Too tight as well: {more} more parts; the sheets name them.\n"),
    };
    tight.into_iter().take(named).collect::<String>() + &more
}

fn settings(plan: &Plan, job: &Job) -> String {
    use Align::{Left, Right};
    let count = |kind: SetupKind| plan.setups.iter().filter(|setup| setup.kind == kind).count() as u64;
    let (rips, stops) = (count(SetupKind::Rip), count(SetupKind::Stop));
    let sheets = match count(SetupKind::Sheet) {
        0 => String::new(),
        settings => format!(", {settings} sheet saw"),
    };
    let mut text = format!(
        "Settings: {rips} rip fence, {stops} crosscut stop{sheets}\n  \
         all boards together, coming back to the saws: made {}\n  \
         one layout after the other: made {}\n  \
         every board by itself: made {} times\n",
        times(plan.settings_made),
        times(plan.settings_by_layout),
        plan.settings_by_board
    );
    let rows: Vec<Vec<String>> = plan
        .setups
        .iter()
        .map(|setup| {
            vec![
                setup.kind.name().to_string(),
                setup.setting.display(plan.unit).to_string(),
                setup.reading.map_or(String::new(), |at| at.display(plan.unit).to_string()),
                setup.station.map_or("", Station::words).to_string(),
                setup.cuts.to_string(),
                setup.boards.len().to_string(),
                match (setup.beyond_reach, setup.narrow) {
                    (true, _) => "beyond this saw's reach: use another tool".into(),
                    (false, true) => "narrow: let the strip fall off the far side of the blade".into(),
                    (false, false) => String::new(),
                },
            ]
        })
        .collect();
    let columns = [
        ("kind", Left),
        ("setting", Right),
        ("scale reads", Right),
        ("at", Left),
        ("cuts", Right),
        ("layouts", Right),
        ("", Left),
    ];
    text.push_str(&aligned(&columns, &rows, "  "));
    let block = job.shop.saw.standoff_block.display(plan.unit);
    if plan.setups.iter().any(|setup| setup.station == Some(Station::Fence)) {
        text.push_str(&format!(
            "  At the fence a stop reads its setting plus the {block} block, which is clamped to it well before the\n  \
             blade: nothing may be trapped between blade and fence. Follow the machine's manual.\n"
        ));
    }
    text
}
