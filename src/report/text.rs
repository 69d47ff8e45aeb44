//! The summary for a person: the buy first, then cost and proven gap, waste, settings.

use std::collections::BTreeMap;

use super::table::{Align, aligned};
use super::{RenderError, Report};
use crate::job::{Job, Make, Station};
use crate::measure::{Length, Volume};
use crate::plan::{BoardSource, Confidence, Movement, Plan, Resawing, SetupKind, resawing};
use crate::planning::Checked;
use crate::solve::Status;

/// A page of text.
pub struct Summary<'p>(pub &'p Checked);

impl Report for Summary<'_> {
    fn file_name(&self) -> &'static str {
        "summary.txt"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let (plan, job) = (self.0.plan(), self.0.job());
        let mut text = buy(plan);
        let asked: String = asked_for(plan, job).iter().map(|line| format!("  {line}\n")).collect();
        if !asked.is_empty() {
            text.push_str(&format!(
                "  Random widths, to ask for by the foot (many shops take 20 to 30 percent more):\n{asked}"
            ));
        }
        text.push('\n');
        text.push_str(&cost(plan));
        text.push('\n');
        for section in [resawn(plan, job), glued(job)].iter().filter(|section| !section.is_empty()) {
            text.push_str(section);
            text.push('\n');
        }
        text.push_str(&wood(plan));
        text.push('\n');
        text.push_str(&settings(plan, job));
        text.push_str(&too_tight(plan, job));
        Ok(text.into_bytes())
    }
}

fn buy(plan: &Plan) -> String {
    if plan.buy.is_empty() {
        return "Buy: nothing; the rack is enough.\n".to_string();
    }
    use Align::{Left, Right};
    let columns = [
        ("dealer", Left),
        ("species", Left),
        ("class", Right),
        ("grade", Left),
        ("width", Right),
        ("length", Right),
        ("boards", Right),
        ("board feet", Right),
        ("price", Right),
        ("per", Left),
        ("off", Right),
        ("cost", Right),
    ];
    let rows: Vec<Vec<String>> = plan
        .buy
        .iter()
        .map(|row| {
            vec![
                row.supplier.clone(),
                row.species.clone(),
                row.quarter.to_string(),
                row.grade.to_string(),
                range(row.ranges()[0], |width| width.display(plan.unit).to_string()),
                range(row.ranges()[1], |length| length.display_feet(plan.unit).to_string()),
                row.boards.to_string(),
                format!("{:.2}", row.board_feet.board_feet_f64()),
                row.price.price(),
                row.per.name().to_string(),
                if row.percent_off.is_zero() {
                    String::new()
                } else {
                    format!("{} %", trimmed(&row.percent_off.price()))
                },
                row.cost.to_string(),
            ]
        })
        .collect();
    let boards: u64 = plan.buy.iter().map(|row| row.boards).sum();
    let feet: Volume = plan.buy.iter().map(|row| row.board_feet).sum();
    format!(
        "Buy: {boards} board{}, {:.2} board feet\n{}",
        plural(boards),
        feet.board_feet_f64(),
        aligned(&columns, &rows, "  ")
    )
}

/// Widths of which a person is told how many boards are needed.
const WIDTHS_ASKED_FOR: usize = 3;

/// What to ask a dealer for who sells random widths: board feet, about how many boards, and how many of them must be
/// wide for the pieces planned on them.
pub fn asked_for(plan: &Plan, job: &Job) -> Vec<String> {
    let rows = plan.buy.iter().enumerate().filter(|(_, row)| row.ranges()[0].0 < row.ranges()[0].1);
    rows.map(|(place, row)| {
        let [widths, lengths] = row.ranges();
        let mut needed: BTreeMap<Length, u32> = BTreeMap::new();
        for board in plan.boards.iter().filter(|board| board.source == BoardSource::Buy(place)) {
            let widest = board.pieces.iter().map(|piece| piece.width).max().unwrap_or(Length::ZERO);
            let needs = widest + job.shop.milling.edge_trim * 2;
            if needs > widths.0 {
                *needed.entry(needs).or_insert(0) += board.copies;
            }
        }
        let wide = needed.iter().rev().take(WIDTHS_ASKED_FOR);
        let wide: Vec<String> = wide
            .map(|(width, boards)| format!("{boards} at least {} wide", width.display(plan.unit)))
            .collect();
        let wide = if wide.is_empty() { String::new() } else { format!(", of them {}", wide.join(", ")) };
        format!(
            "{}: {:.0} board feet of {} {} {}, {} wide, {} long: about {} board{}{wide}",
            row.supplier,
            row.board_feet.board_feet_f64(),
            row.species,
            row.quarter,
            row.grade,
            range(widths, |width| width.display(plan.unit).to_string()),
            range(lengths, |length| length.display_feet(plan.unit).to_string()),
            row.boards,
            plural(row.boards)
        )
    })
    .collect()
}

/// A size, or a range from one to another.
pub fn range((from, to): (Length, Length), shown: impl Fn(Length) -> String) -> String {
    if from == to { shown(from) } else { format!("{}..{}", shown(from), shown(to)) }
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

pub fn trimmed(number: &str) -> &str {
    if number.contains('.') { number.trim_end_matches('0').trim_end_matches('.') } else { number }
}

fn plural(count: u64) -> &'static str {
    if count == 1 { "" } else { "s" }
}

fn cost(plan: &Plan) -> String {
    let cost = &plan.cost;
    let mut lines = vec![("lumber", cost.lumber)];
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
    if !cost.offcut_credit.is_zero() {
        lines.push(("less kept offcuts", cost.offcut_credit));
    }
    lines.push(("total", cost.total));
    let widest = lines.iter().map(|(_, amount)| amount.to_string().len()).max().unwrap_or(0);
    let mut text = format!("Cost in {}\n", plan.currency);
    for (name, amount) in lines {
        text.push_str(&format!("  {name:<22}{amount:>widest$}\n"));
    }
    let sample = for_this_sample(plan);
    let proof = match plan.status {
        Status::Optimal => format!("  proven: {sample}no plan is cheaper\n"),
        Status::WithinGap => {
            format!(
                "  proven: {sample}no plan costs less than {} (gap {:.2} %)\n",
                cost.lower_bound, cost.gap_percent
            )
        }
        Status::Stopped => format!(
            "  stopped before the gap asked for: at most {} can still be saved, since {sample}no plan costs\n  \
             less than {} (gap {:.2} %)\n",
            cost.total - cost.lower_bound,
            cost.lower_bound,
            cost.gap_percent
        ),
    };
    text.push_str(&proof);
    if plan.has_drawn_boards() {
        text.push_str("\nBoards: drawn as their grade and size say; measure those that come, then plan again at the yard\n");
        if let Some(of) = &plan.confidence {
            text.push_str(&format!("  {}\n", confidence(of)));
        }
    }
    text
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
    let waste = &plan.waste;
    let stock = waste.stock.board_feet_f64();
    let mut text = format!("Wood: {stock:.2} board feet of boards, by class\n");
    for (name, volume) in [
        ("parts", waste.parts),
        ("kerf", waste.kerf),
        ("trim and allowances", waste.trim),
        ("offcuts kept", waste.kept_offcuts),
        ("scrap", waste.scrap),
        ("finished, by volume", waste.finished),
    ] {
        let (feet, share) = (volume.board_feet_f64(), waste.percent(volume));
        text.push_str(&format!("  {name:<22}{feet:>10.2}{share:>8.1} %\n"));
    }
    text
}

/// How often settings are made, and were in the plan that was changed for fewer of them.
pub fn times((now, before): (usize, Option<usize>)) -> String {
    match before {
        Some(before) => format!("{now} times ({before} in the cheapest plan found)"),
        None => format!("{now} times"),
    }
}

/// Parts held in a frame without the room to swell.
fn too_tight(plan: &Plan, job: &Job) -> String {
    let line = |movement: &Movement| {
        let part = &job.parts[movement.part];
        let (Some(room), Some([flat_sawn, _])) = (part.captured, movement.by_cut) else {
            return String::new();
        };
        format!(
            "\nToo tight: {} of {} has {} of room in its frame and may swell by {} (flat-sawn).\n",
            part.part,
            part.product,
            room.display(plan.unit),
            flat_sawn.swells.display(plan.unit)
        )
    };
    plan.work.movement.iter().filter(|movement| movement.is_tight).map(line).collect()
}

fn settings(plan: &Plan, job: &Job) -> String {
    use Align::{Left, Right};
    let count = |kind: SetupKind| plan.setups.iter().filter(|setup| setup.kind == kind).count() as u64;
    let (rips, stops) = (count(SetupKind::Rip), count(SetupKind::Stop));
    let mut text = format!(
        "Settings: {rips} rip fence, {stops} crosscut stop\n  \
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
    let short = plan.boards.iter().flat_map(|board| &board.pieces);
    let short = short.filter(|piece| piece.length < job.shop.safety.min_machined_length).count();
    if short > 0 {
        let least = job.shop.safety.min_machined_length.display(plan.unit);
        text.push_str(&format!(
            "  Pieces shorter than {least} are in this plan: mill them as part of a longer piece, never alone.\n"
        ));
    }
    text
}
