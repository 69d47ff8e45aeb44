//! The summary for a person: the buy first, then cost and proven gap, waste, settings.

use std::collections::BTreeMap;

use super::measured::{area, unit_of_area, unit_of_volume, volume, volume_to_ask_for};
use super::table::{Align, aligned};
use super::{RenderError, Report};
use crate::job::{Job, Make, Station};
use crate::measure::{Length, Money, Unit, Volume};
use crate::plan::{
    BoardSource, Bought, Buy, Confidence, Edging, Movement, Plan, Resawing, SetupKind, Waste, resawing,
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
        let screen = |named: usize| {
            let wood = wood_in_a_line(plan) + &in_short(plan, job);
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

/// What is bought, by dealer, and what it costs in all. Boards and sheets are counted apart.
fn buy(plan: &Plan, named: usize) -> String {
    use Align::{Left, Right};
    let unit = plan.unit;
    let (lumber, sheets) = (plan.has_lumber() || !plan.has_sheets(), plan.has_sheets());
    // Of boards, their volume, sheets and their area those that the plan has.
    let counted = |bought: Bought| {
        let feet = volume(bought.board_feet.board_feet_f64(), unit);
        let mut cells = Vec::new();
        if lumber {
            cells.extend([bought.boards.to_string(), feet]);
        }
        if sheets {
            cells.extend([bought.sheets.to_string(), area(bought.square_feet, unit)]);
        }
        cells
    };
    let row = |name: &str, counts: Vec<String>, amount: String, what: String| {
        let mut row = vec![name.to_string()];
        row.extend(counts);
        row.resize(1 + 2 * (usize::from(lumber) + usize::from(sheets)), String::new());
        row.extend([amount, what]);
        row
    };
    let cost_of = |rows: &mut dyn Iterator<Item = &Buy>| rows.map(|row| row.cost).sum::<Money>().to_string();
    let mut rows: Vec<Vec<String>> = Vec::new();
    let by_dealer: Vec<&[Buy]> = plan.buy.chunk_by(|one, other| one.supplier == other.supplier).collect();
    for dealer in by_dealer.iter().take(named) {
        let mut species: Vec<&str> = dealer.iter().map(|row| row.species.as_str()).collect();
        species.dedup();
        let (counts, amount) = (counted(Bought::of(*dealer)), cost_of(&mut dealer.iter()));
        rows.push(row(&dealer[0].supplier, counts, amount, species.join(", ")));
    }
    let more = by_dealer.get(named..).unwrap_or_default();
    if !more.is_empty() {
        let rest = || more.iter().copied().flatten();
        let name = format!("{} more dealers", more.len());
        rows.push(row(&name, counted(Bought::of(rest())), cost_of(&mut rest()), String::new()));
    }
    let pulled: u64 = plan
        .boards
        .iter()
        .filter(|board| matches!(board.source, BoardSource::Rack(..)))
        .map(|board| u64::from(board.copies))
        .sum();
    let cost = &plan.cost;
    let mut add = |name: &str, boards: Vec<String>, amount: String| {
        rows.push(row(name, boards, amount, String::new()));
    };
    if !cost.delivery.is_zero() {
        add("delivery", Vec::new(), cost.delivery.to_string());
    }
    if pulled > 0 {
        add("from the rack", vec![pulled.to_string()], cost.rack.to_string());
    }
    if !cost.setup.is_zero() {
        add("set-up labour", Vec::new(), cost.setup.to_string());
    }
    if !cost.offcut_credit.is_zero() {
        add("less kept offcuts", Vec::new(), format!("-{}", cost.offcut_credit));
    }
    add("total", Vec::new(), cost.total.to_string());
    let mut columns = vec![("dealer", Left)];
    if lumber {
        columns.extend([("boards", Right), (unit_of_volume(unit), Right)]);
    }
    if sheets {
        columns.extend([("sheets", Right), (unit_of_area(unit), Right)]);
    }
    columns.extend([(plan.currency.as_str(), Right), ("", Left)]);
    let head = if plan.buy.is_empty() {
        "Buy: nothing; the rack is enough.".to_string()
    } else {
        format!("Buy: {}", in_words(Bought::of(&plan.buy), plan))
    };
    format!("{head}\n{}", aligned(&columns, &rows, "  "))
}

/// Boards and sheets with their measure.
fn in_words(bought: Bought, plan: &Plan) -> String {
    let Bought { boards, board_feet, sheets, square_feet } = bought;
    let unit = plan.unit;
    let lumber = (boards > 0).then(|| {
        let feet = volume(board_feet.board_feet_f64(), unit);
        format!("{boards} board{}, {feet} {}", plural(boards), unit_of_volume(unit))
    });
    let sheets = (sheets > 0).then(|| {
        let feet = area(square_feet, unit);
        format!("{sheets} sheet{}, {feet} {}", plural(sheets), unit_of_area(unit))
    });
    lumber.into_iter().chain(sheets).collect::<Vec<_>>().join("; ")
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
    if plan.has_lumber() || !plan.has_sheets() {
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
fn in_short(plan: &Plan, job: &Job) -> String {
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
    text.push_str(&edges(plan));
    let glued = job.parts.iter().filter(|part| part.blank.make.is_glued() && part.required > 0).count();
    let resawn = resawing(plan, job).len();
    let made = [(glued, "glued from strips or layers"), (resawn, "resawn from thicker pieces")];
    let made: Vec<String> =
        made.iter().filter(|(many, _)| *many > 0).map(|(many, what)| format!("{many} {what}")).collect();
    if !made.is_empty() {
        text.push_str(&format!("Parts: {}\n", made.join(", ")));
    }
    text + &short_pieces(plan, job)
}

/// Edging to buy, in a line.
fn edges(plan: &Plan) -> String {
    let one = |edging: &Edging| {
        let thickness = edging.thickness.display(plan.unit);
        let length = running(edging.length, plan.unit);
        format!("{length} of {thickness} on {} {}", edging.sheet.display(plan.unit), edging.species)
    };
    let all: Vec<String> = plan.edging.iter().map(one).collect();
    match all.len() {
        0 => String::new(),
        few if few <= NAMED => format!("Edging: {}\n", all.join("; ")),
        many => format!("Edging: {many} kinds; the sheets name them\n"),
    }
}

/// A long length as it is bought: whole feet, or tenths of a metre, rounded up.
pub fn running(length: Length, unit: Unit) -> String {
    match unit {
        Unit::Inch => format!("{:.0} ft", (length.to_f64(Unit::Inch) / 12.0).ceil()),
        Unit::Millimetre => format!("{:.1} m", (length.to_f64(Unit::Millimetre) / 100.0).ceil() / 10.0),
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

/// Parts that nothing on offer gives, and why.
fn left_out(plan: &Plan, job: &Job, named: usize) -> String {
    let open: Vec<String> = plan
        .still_needed
        .iter()
        .map(|open| {
            let part = &job.parts[open.part];
            let why = open.reason.as_deref().unwrap_or("the boards do not give them");
            format!("  {} / {}: {why}\n", part.product, part.part)
        })
        .collect();
    if open.is_empty() {
        return String::new();
    }
    let more = open.len().saturating_sub(named);
    let more = if more == 0 { String::new() } else { format!("  and {more} more; plan.json names them\n") };
    let told: String = open.into_iter().take(named).collect();
    format!("Left out, so that the rest could be planned:\n{told}{more}")
}

fn rows_of_the_buy(plan: &Plan) -> String {
    if plan.buy.is_empty() {
        return String::new();
    }
    use Align::{Left, Right};
    let unit = match (plan.has_lumber(), plan.has_sheets()) {
        (true, true) => "measure",
        (false, true) => unit_of_area(plan.unit),
        (_, false) => unit_of_volume(plan.unit),
    };
    let columns = [
        ("dealer", Left),
        ("species", Left),
        ("class", Right),
        ("grade", Left),
        ("width", Right),
        ("length", Right),
        ("boards", Right),
        (unit, Right),
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
                measure(row, plan.unit),
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
    format!("Boards to buy\n{}", aligned(&columns, &rows, "  "))
}

/// Board feet, or the area of sheets; beside sheets either one says what it is.
pub fn measure(row: &Buy, unit: Unit) -> String {
    match (&row.sheet, unit) {
        (None, _) => volume(row.board_feet.board_feet_f64(), unit),
        (Some(_), Unit::Inch) => format!("{} ft2", area(row.square_feet(), unit)),
        (Some(_), Unit::Millimetre) => format!("{} m2", area(row.square_feet(), unit)),
    }
}

fn to_ask_for(plan: &Plan, job: &Job) -> String {
    let lines: String = asked_for(plan, job).iter().map(|line| format!("  {line}\n")).collect();
    if lines.is_empty() {
        return lines;
    }
    let unit = unit_of_volume(plan.unit);
    format!("Random widths, to ask for by {unit} (many shops take 20 to 30 percent more):\n{lines}")
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
            "{}: {} {} of {} {} {}, {} wide, {} long: about {} board{}{wide}",
            row.supplier,
            volume_to_ask_for(row.board_feet.board_feet_f64(), plan.unit),
            unit_of_volume(plan.unit),
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
    match plan.status {
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
    if plan.has_lumber() || !plan.has_sheets() {
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

/// How often settings are made, and were in the plan that was changed for fewer of them.
pub fn times((now, before): (usize, Option<usize>)) -> String {
    match before {
        Some(before) => format!("{now} times ({before} in the cheapest plan found)"),
        None => format!("{now} times"),
    }
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
