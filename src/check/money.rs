//! The costs, re-added from the price sheets.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_rational::BigRational;

use super::boards::Replayed;
use super::edging::cost_of_rolls;
use super::exact;
use super::fault::PlanFault;
use super::lines::{available, price_line};
use super::settings::Held;
use crate::document::{BuyEntry, CostEntry, Document};
use crate::index::{LineIndex, SupplierIndex};
use crate::job::{Job, Per, PriceLine, Supplier, WoodDefects};
use crate::measure::{Area, Length, Money};
use crate::trade::Tally;

/// Slack of printed board feet.
const FEET_SLACK: f64 = 1e-6;

fn ratio(numerator: i128, denominator: i128) -> BigRational {
    BigRational::new(BigInt::from(numerator), BigInt::from(denominator))
}

/// The dealer's tally of one board in board feet, from the rule's own words.
fn tally(rule: Tally, line: &PriceLine) -> BigRational {
    // Sheets are not counted in board feet.
    if line.quarter.is_sheet() {
        return ratio(0, 1);
    }
    let inch = i128::from(Length::inches(1).base());
    let feet = i128::from(line.length.base()) / (12 * inch);
    let thickness = ratio(i128::from(line.quarter.rough().base()), inch).max(ratio(1, 1));
    let width = ratio(i128::from(line.width.base()), inch);
    match rule {
        Tally::Exact => ratio(i128::from(line.length.base()), inch) * width * thickness / ratio(144, 1),
        Tally::WholeFoot => ratio(12 * feet, 1) * width * thickness / ratio(144, 1),
        Tally::SurfaceMeasure => (width * ratio(feet, 12) + ratio(1, 2)).floor() * thickness,
    }
}

fn unit_price(line: &PriceLine, board_feet: &BigRational) -> BigRational {
    let price = line.price.to_ratio();
    match line.per {
        Per::BoardFoot => price * board_feet,
        Per::Piece => price,
        Per::Foot => price * ratio(i128::from(line.length.base()), i128::from(Length::inches(12).base())),
        Per::CubicMetre => {
            let metre = i128::from(Length::micrometres(1_000_000).base());
            let volume = Area::of(line.length, line.width).times(line.quarter.rough()).base();
            price * ratio(volume, metre) / ratio(metre, 1) / ratio(metre, 1)
        }
        Per::SquareFoot | Per::SquareMetre => {
            let side = match line.per {
                Per::SquareFoot => Length::inches(12),
                _ => Length::millimetres(1_000),
            };
            let area = Area::of(line.length, line.width).base();
            price * ratio(area, i128::from(side.base())) / ratio(i128::from(side.base()), 1)
        }
    }
}

/// Board feet and price of a row before any break. Drawn boards are measured one by one.
fn bought(
    document: &Document,
    job: &Job,
    row: usize,
    boards: u64,
    line: &PriceLine,
) -> (BigRational, BigRational) {
    let rule = job.suppliers[line.supplier].tally;
    let of = |line: &PriceLine, boards: u64| {
        let each = tally(rule, line);
        let count = ratio(i128::from(boards), 1);
        let price = unit_price(line, &each) * &count;
        (each * count, price)
    };
    if job.shop.wood.defects != WoodDefects::ByGrade || line.quarter.is_sheet() {
        return of(line, boards);
    }
    let source = format!("buy:{row}");
    let mut sum = (ratio(0, 1), ratio(0, 1));
    for board in document.boards.iter().filter(|board| board.source == source) {
        let unit = job.shop.unit;
        let measured =
            PriceLine { length: exact(board.length, unit), width: exact(board.width, unit), ..line.clone() };
        let (feet, price) = of(&measured, u64::from(board.copies));
        sum = (sum.0 + feet, sum.1 + price);
    }
    sum
}

/// Checks a row's percentage, cost and measure, given its own board feet and price and all feet of its dealer. Gives
/// what the row costs.
fn check_row(
    entry: &BuyEntry,
    supplier: &Supplier,
    (board_feet, price): (BigRational, BigRational),
    in_all: &BigRational,
    place: &str,
    faults: &mut Vec<PlanFault>,
) -> Money {
    let mut fault = |text: String| faults.push(PlanFault::new(place, text));
    let reached = supplier.breaks.iter().filter(|step| *in_all >= step.from.board_feet());
    let off = reached.map(|step| step.percent_off).max().unwrap_or(Money::ZERO);
    if Money::parse(&entry.percent_off) != Ok(off) {
        fault(format!("has {} percent off, the dealer gives {}", entry.percent_off, off.price()));
    }
    let share = (ratio(100, 1) - off.to_ratio()) / ratio(100, 1);
    let cost = Money::round_half_up(&(price * share)).unwrap_or(Money::ZERO);
    if Money::parse(&entry.cost) != Ok(cost) {
        fault(format!("costs {}, not {}", cost, entry.cost));
    }
    let board_feet = num_traits::ToPrimitive::to_f64(&board_feet).unwrap_or(f64::NAN);
    let difference = (board_feet - entry.board_feet).abs();
    if difference.is_nan() || difference > FEET_SLACK {
        fault(format!("is {board_feet} board feet, not {}", entry.board_feet));
    }
    cost
}

/// Checks every amount of money in the plan.
pub fn check_money(document: &Document, job: &Job, replayed: &Replayed, faults: &mut Vec<PlanFault>) {
    let mut lumber = Money::ZERO;
    let mut taken: BTreeMap<LineIndex, u64> = BTreeMap::new();
    let lines: Vec<Option<LineIndex>> = document.buy.iter().map(|entry| price_line(entry, job)).collect();
    let mut feet: BTreeMap<SupplierIndex, BigRational> = BTreeMap::new();
    for (row, (entry, line)) in document.buy.iter().zip(&lines).enumerate() {
        let Some(line) = line.map(|line| &job.lines[line]) else { continue };
        let sum = feet.entry(line.supplier).or_insert_with(|| ratio(0, 1));
        *sum += bought(document, job, row, entry.boards, line).0;
    }
    let mut spent: BTreeMap<SupplierIndex, Money> = BTreeMap::new();
    for (row, (entry, found)) in document.buy.iter().zip(&lines).enumerate() {
        let place = format!("buy row {row}");
        let Some(found) = found else {
            faults.push(PlanFault::new(place, "is not a line of any price sheet"));
            continue;
        };
        let line = &job.lines[*found];
        let boards = taken.entry(*found).or_insert(0);
        *boards = boards.saturating_add(entry.boards);
        if available(line, job).is_some_and(|available| *boards > available) {
            faults.push(PlanFault::new(place.clone(), "takes more boards than are to be had"));
        }
        if entry.boards == 0 || replayed.copies[row] != entry.boards {
            let text = format!("buys {} boards and {} are cut", entry.boards, replayed.copies[row]);
            faults.push(PlanFault::new(place.clone(), text));
        }
        let in_all = feet.get(&line.supplier).cloned().unwrap_or_else(|| ratio(0, 1));
        let cost = check_row(
            entry,
            &job.suppliers[line.supplier],
            bought(document, job, row, entry.boards, line),
            &in_all,
            &place,
            faults,
        );
        lumber += cost;
        *spent.entry(line.supplier).or_insert(Money::ZERO) += cost;
    }
    let mut delivery = Money::ZERO;
    for (index, spent) in &spent {
        let supplier = &job.suppliers[*index];
        delivery += supplier.delivery;
        if *spent < supplier.minimum_order {
            let text =
                format!("from {} is {spent}, below the minimum of {}", supplier.name, supplier.minimum_order);
            faults.push(PlanFault::new("the order", text));
        }
    }
    let credit = offcut_credit(document, job, &lines);
    let rolls = cost_of_rolls(document);
    let total = check_cost(&document.cost, [lumber, delivery, credit, rolls], job, replayed, faults);
    check_bound(document, total, faults);
}

/// Checks the amounts that the total is made of, and the total. Gives the total that is due.
fn check_cost(
    cost: &CostEntry,
    [lumber, delivery, credit, rolls]: [Money; 4],
    job: &Job,
    replayed: &Replayed,
    faults: &mut Vec<PlanFault>,
) -> Money {
    let rack: Money = replayed.rack.iter().map(|index| job.rack[*index].value).sum();
    let rack = rack.rounded_up();
    let setup = setup_cost(job, replayed);
    let total = lumber + delivery + rack + setup + rolls - credit;
    let none = Money::ZERO.to_string();
    for (name, printed, due) in [
        ("lumber", &cost.lumber, lumber),
        ("delivery", &cost.delivery, delivery),
        ("rack", &cost.rack, rack),
        ("setup", &cost.setup, setup),
        ("offcut_credit", &cost.offcut_credit, credit),
        ("edging", cost.edging.as_ref().unwrap_or(&none), rolls),
        ("total", &cost.total, total),
    ] {
        if Money::parse_signed(printed) != Ok(due) {
            faults.push(PlanFault::new(format!("cost.{name}"), format!("is {printed}, and should be {due}")));
        }
    }
    total
}

fn setup_cost(job: &Job, replayed: &Replayed) -> Money {
    let stops = replayed.charged.iter().filter(|(held, _)| *held == Held::Stop).count();
    let rips = replayed.charged.len() - stops;
    let labour = &job.shop.labour;
    let minutes = ratio(rips as i128, 1) * labour.rip_setup_minutes.to_ratio()
        + ratio(stops as i128, 1) * labour.stop_setup_minutes.to_ratio();
    Money::round_half_up(&(minutes * labour.hourly_rate.to_ratio() / ratio(60, 1))).unwrap_or(Money::ZERO)
}

fn offcut_credit(document: &Document, job: &Job, lines: &[Option<LineIndex>]) -> Money {
    let percent = job.shop.offcuts.credit_percent;
    let unit = job.shop.unit;
    let mut sum = ratio(0, 1);
    for board in &document.boards {
        let kept = board.offcuts.iter().filter(|offcut| offcut.keep);
        let area: Area = kept.map(|off| Area::of(exact(off.length, unit), exact(off.width, unit))).sum();
        let whole = Area::of(exact(board.length, unit), exact(board.width, unit)).base();
        let paid = match board.source.split_once(':') {
            Some(("buy", row)) => {
                let row: usize = row.parse().unwrap_or(usize::MAX);
                match (document.buy.get(row), lines.get(row)) {
                    (Some(entry), Some(Some(_))) if entry.boards > 0 => {
                        let cost = Money::parse(&entry.cost).unwrap_or(Money::ZERO);
                        cost.to_ratio() / ratio(i128::from(entry.boards), 1)
                    }
                    _ => continue,
                }
            }
            Some(("rack", name)) => match job.rack.iter().find(|rack| rack.board == name) {
                Some(rack) => rack.value.to_ratio(),
                None => continue,
            },
            _ => continue,
        };
        if whole > 0 {
            sum += ratio(area.base(), whole) * paid * ratio(i128::from(board.copies), 1);
        }
    }
    let cents = (sum * percent.to_ratio()).floor();
    Money::round_half_up(&(cents / ratio(100, 1))).unwrap_or(Money::ZERO)
}

fn check_bound(document: &Document, total: Money, faults: &mut Vec<PlanFault>) {
    let Ok(bound) = Money::parse_signed(&document.cost.lower_bound) else {
        faults.push(PlanFault::new("cost.lower_bound", "is not an amount of money"));
        return;
    };
    if bound > total {
        faults.push(PlanFault::new("cost.lower_bound", "is above the total"));
    }
    let gap = if total.to_f64() > 0.0 { (total - bound).to_f64() / total.to_f64() * 100.0 } else { 0.0 };
    let difference = (gap - document.cost.gap_percent).abs();
    if difference.is_nan() || difference > 0.001 {
        faults
            .push(PlanFault::new("cost.gap_percent", format!("is {}, not {gap}", document.cost.gap_percent)));
    }
    let known = ["optimal", "within-gap", "stopped"].contains(&document.status.as_str());
    if !known || (document.status == "optimal") != (bound == total) {
        let text = format!("is \"{}\", which does not fit the bound", document.status);
        faults.push(PlanFault::new("status", text));
    }
}
