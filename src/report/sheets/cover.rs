//! The cover: what is bought and pulled, for which orders, what it costs and what is proven.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use serde::Serialize;

use super::boards::stock;
use super::numbers::hundredths;
use super::sizes::{long, shown};
use super::steps::thicknesses;
use super::ticked::Table;
use crate::index::BoardIndex;
use crate::job::{Job, Order};
use crate::measure::{Length, Money, Volume};
use crate::plan::{Board, BoardSource, Edging, Made, Plan, Waste};
use crate::report::bought::{measure, range};
use crate::report::measured::{area, unit_of_area};
use crate::report::table::Align::{Left, Right};
use crate::report::text::{for_this_sample, rolls_of};
use crate::report::words::running;
use crate::solve::Status;
use crate::trade::SheetGrain;

/// Orders that a cover lists.
pub const MOST_ORDERS: usize = 30;

pub fn cost_lines(plan: &Plan) -> Vec<(&'static str, String)> {
    let cost = &plan.cost;
    [
        (if plan.has_sheets() { "Lumber and sheets" } else { "Lumber" }, cost.lumber),
        ("Delivery", cost.delivery),
        ("Rack boards used up", cost.rack),
        ("Set-up labour", cost.setup),
        ("Rolls of edging", cost.edging),
        ("Less kept offcuts", cost.offcut_credit),
    ]
    .into_iter()
    .filter(|(_, amount)| !amount.is_zero())
    .map(|(name, amount)| (name, amount.to_string()))
    .collect()
}

pub fn proof(plan: &Plan) -> String {
    let sample = for_this_sample(plan);
    match plan.status {
        Status::Optimal => format!("Proven: {sample}no plan is cheaper."),
        Status::WithinGap | Status::Stopped => format!(
            "Proven: {sample}no plan costs less than {} (gap {:.2} %), so at most {} can still be saved.",
            plan.cost.lower_bound,
            plan.cost.gap_percent,
            plan.cost.total - plan.cost.lower_bound
        ),
    }
}

#[derive(Serialize)]
pub struct BuyView {
    board: String,
    size: String,
    boards: u64,
    feet: String,
    price: String,
    cost: String,
}

/// What a stack of sheets is for, in one line: it is on every page.
pub fn title(job: &Job) -> String {
    // A week of a book has its orders added up by product.
    let added_up = job.orders.iter().all(|order| order.order == order.product);
    let what = match (&job.orders[..], added_up) {
        ([order], true) => format!("{} of {}", order.quantity, order.product),
        ([order], false) => format!("{} of {}, order {}", order.quantity, order.product, order.order),
        (orders, true) => format!("{} products", orders.len()),
        (orders, false) => format!("{} orders", orders.len()),
    };
    let due = || job.orders.iter().filter_map(|order| order.due);
    match (due().min(), due().max()) {
        (Some(first), Some(last)) if first == last => format!("{what}, due {first}"),
        (Some(first), Some(last)) => format!("{what}, due {first} to {last}"),
        _ => what,
    }
}

/// A text as a style sheet's: letters and digits as they are, all else by its number.
pub fn as_css_text(text: &str) -> String {
    let escape = |letter: char| match letter {
        letter if letter.is_ascii_alphanumeric() => letter.to_string(),
        other => format!("\\{:06x} ", u32::from(other)),
    };
    text.chars().map(escape).collect()
}

/// A line of the cover's orders.
#[derive(Serialize)]
pub struct OrderView {
    name: String,
    what: String,
    due: String,
    note: String,
}

pub fn orders(job: &Job) -> Vec<OrderView> {
    let view = |order: &Order| {
        let due = order.due.map(|due| due.to_string()).unwrap_or_default();
        let customer =
            if order.customer.is_empty() { String::new() } else { format!(" for {}", order.customer) };
        let name = match order.order == order.product {
            true if order.customer.is_empty() => String::new(),
            true => format!("{}: ", order.customer),
            false => format!("{}{customer}: ", order.order),
        };
        let priority = if order.priority < Order::USUAL_PRIORITY { "first, " } else { "" };
        let what = format!("{priority}{} of {}", order.quantity, order.product);
        OrderView { name, what, due, note: order.note.clone() }
    };
    let mut orders: Vec<&Order> = job.orders.iter().collect();
    orders.sort_by_key(|order| order.turn());
    orders.into_iter().take(MOST_ORDERS).map(view).collect()
}

/// A board to take from the rack.
#[derive(Serialize)]
pub struct PulledView {
    name: String,
    what: String,
    /// Where it lies, if the rack says so.
    place: String,
    /// Width and height of its picture: all are drawn to one scale.
    width: f64,
    height: f64,
}

/// Width of the picture of the longest board.
const LONGEST_PICTURE: f64 = 90.0;

/// What is taken from the rack.
pub fn pulled(plan: &Plan, job: &Job) -> Vec<PulledView> {
    let from_rack = plan.boards.iter().filter(|board| matches!(board.source, BoardSource::Rack(..)));
    let longest = from_rack.map(|board| board.length).max().unwrap_or(Length::ZERO).to_f64(plan.unit);
    let drawn =
        |size: Length| hundredths(size.to_f64(plan.unit) / longest.max(f64::MIN_POSITIVE) * LONGEST_PICTURE);
    let view = |board: &Board| {
        let BoardSource::Rack(index, name) = &board.source else { return None };
        let size = format!("{} x {}", shown(board.width, plan.unit), long(board.length, plan.unit));
        let what = format!("{}, {size}", stock(&board.species, board.quarter, board.grade));
        let place = job.rack[*index].place.clone();
        Some(PulledView {
            name: name.clone(),
            what,
            place,
            width: drawn(board.length),
            height: drawn(board.width),
        })
    };
    plan.boards.iter().filter_map(view).collect()
}

/// A dealer, what is bought there, and what that costs.
#[derive(Serialize)]
pub struct DealerView {
    name: String,
    rows: Vec<BuyView>,
    cost: String,
}

pub fn buy_rows(plan: &Plan) -> Vec<DealerView> {
    let view = |row: &crate::plan::Buy| BuyView {
        board: bought(row),
        size: format!(
            "{} x {}",
            range(row.ranges()[0], |width| shown(width, plan.unit)),
            range(row.ranges()[1], |length| long(length, plan.unit))
        ),
        boards: row.boards,
        feet: measure(row, plan.unit),
        price: format!("{} / {}", row.price.price(), row.per.name()),
        cost: row.cost.to_string(),
    };
    let by_dealer = plan.buy.chunk_by(|one, other| one.supplier == other.supplier);
    let dealer = |rows: &[crate::plan::Buy]| {
        let cost: Money = rows.iter().map(|row| row.cost).sum();
        DealerView {
            name: rows[0].supplier.clone(),
            rows: rows.iter().map(view).collect(),
            cost: cost.to_string(),
        }
    };
    by_dealer.map(dealer).collect()
}

/// What a row is called, with what sheets have beyond that.
pub fn bought(row: &crate::plan::Buy) -> String {
    let what = stock(&row.species, row.quarter, row.grade);
    let Some(sheet) = &row.sheet else { return what };
    let core = if sheet.core.is_empty() { String::new() } else { format!(", {} core", sheet.core) };
    let grain = match sheet.grain {
        SheetGrain::Along => ", grain along the length",
        SheetGrain::Across => ", grain along the width",
        SheetGrain::None => ", no grain",
    };
    format!("{what}{core}{grain}")
}

#[derive(Serialize)]
pub struct WoodView {
    name: &'static str,
    class: &'static str,
    feet: String,
    percent: f64,
}

pub fn wood(waste: &Waste, shown: &dyn Fn(f64) -> String) -> Vec<WoodView> {
    // As the style sheet calls them.
    const CLASSES: [&str; 5] = ["parts", "kerf", "trim", "kept", "scrap"];
    let shares = waste.shares().into_iter().zip(CLASSES);
    let view = |((name, part), class): ((&'static str, Volume), &'static str)| {
        let (feet, percent) = (shown(part.board_feet_f64()), waste.percent(part));
        WoodView { name, class, feet, percent: (percent * 10.0).round() / 10.0 }
    };
    shares.map(view).collect()
}

/// Where the area of the sheets goes.
#[derive(Serialize)]
pub struct SheetsView {
    stock: String,
    unit: &'static str,
    goes: Vec<WoodView>,
}

/// Where the sheets go, if the plan has any.
pub fn sheets(plan: &Plan) -> Option<SheetsView> {
    plan.has_sheets().then(|| SheetsView {
        stock: area(plan.sheet_waste.stock.board_feet_f64(), plan.unit),
        unit: unit_of_area(plan.unit),
        goes: wood(&plan.sheet_waste, &|feet| area(feet, plan.unit)),
    })
}

/// What is glued on edges, and how much of it.
pub fn edging(plan: &Plan) -> Table {
    let view = |edging: &Edging| {
        let thickness = shown(edging.thickness, plan.unit);
        let on = format!("{} {}", shown(edging.sheet, plan.unit), edging.species);
        let rolls = rolls_of(edging, plan.unit).unwrap_or_default();
        [thickness, on, edging.edges.to_string(), running(edging.length, plan.unit), rolls]
    };
    let to_buy = if plan.edging.iter().any(|edging| !edging.rolls.is_empty()) { "To buy" } else { "" };
    let heads = [("Thickness", Left), ("On", Left), ("Edges", Right), ("Length", Right), (to_buy, Left)];
    Table::new(heads, plan.edging.iter().map(view))
}

/// Names of boards, those that follow each other by number as one run.
pub fn in_runs<'n>(names: impl Iterator<Item = &'n str>) -> String {
    let names: Vec<(&str, Option<u32>)> = names.map(|name| (name, name.parse().ok())).collect();
    let follows = |one: &(&str, Option<u32>), next: &(&str, Option<u32>)| {
        one.1.is_some_and(|number| number.checked_add(1) == next.1)
    };
    let runs = names.chunk_by(follows).map(|run| match run {
        [first, .., last] if run.len() > 2 => format!("{} to {}", first.0, last.0),
        run => run.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", "),
    });
    runs.collect::<Vec<_>>().join(", ")
}

/// A setting in its turn.
#[derive(Serialize)]
pub struct SettingView {
    cut: &'static str,
    setting: String,
    reading: String,
    note: &'static str,
    boards: String,
}

/// What boards are planed to, the thickest first, and then the settings of the saws in the order made: each with the
/// boards that go through it then.
pub fn order(plan: &Plan, job: &Job) -> Vec<SettingView> {
    let mut planed: BTreeMap<Reverse<Length>, Vec<&str>> = BTreeMap::new();
    let held = plan.boards.iter().filter(|board| !board.drawn && board.sheet.is_none());
    for board in held.filter(|board| !board.pieces.is_empty()) {
        if let Some(thickest) = thicknesses(job, board).first() {
            planed.entry(Reverse(*thickest)).or_default().push(&board.id);
        }
    }
    let planed = planed.into_iter().map(|(thickness, boards)| SettingView {
        cut: "planer",
        setting: shown(thickness.0, plan.unit),
        reading: String::new(),
        note: "",
        boards: in_runs(boards.into_iter()),
    });
    planed.chain(settings(plan)).collect()
}

/// The settings of the saws.
fn settings(plan: &Plan) -> Vec<SettingView> {
    // Boards that nobody has seen are planned again when they are measured.
    let held = |board: &&BoardIndex| !plan.boards[**board].drawn;
    let view = |made: &Made| {
        if !made.boards.iter().any(|board| held(&board)) {
            return None;
        }
        let group =
            plan.setups.iter().find(|setup| (setup.kind, setup.setting) == (made.kind, made.setting))?;
        let note = match (group.beyond_reach, group.narrow) {
            (true, _) => "another tool",
            (_, true) => "narrow",
            _ => "",
        };
        let boards = made.boards.iter().filter(held).map(|board| plan.boards[*board].id.as_str());
        Some(SettingView {
            cut: group.at(),
            setting: shown(made.setting, plan.unit),
            reading: group.reading.map_or(String::new(), |at| shown(at, plan.unit)),
            note,
            boards: in_runs(boards),
        })
    };
    plan.order.iter().filter_map(view).collect()
}

#[cfg(test)]
mod tests {
    use super::in_runs;

    #[test]
    fn boards_that_follow_each_other_are_one_run() {
        for (names, shown) in [
            (vec!["1", "2", "3", "7", "8", "B2", "10"], "1 to 3, 7, 8, B2, 10"),
            (vec!["4"], "4"),
            (vec![], ""),
            (vec!["4294967295", "0"], "4294967295, 0"),
        ] {
            assert_eq!(in_runs(names.into_iter()), shown);
        }
    }
}
