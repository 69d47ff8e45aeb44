//! What is bought, as lists say it: by dealer, row by row, and what to ask for.

use std::collections::BTreeMap;

use super::measured::{area, unit_of_area, unit_of_volume, volume, volume_to_ask_for};
use super::table::{Align, aligned};
use super::words::{plural, trimmed};
use crate::job::Job;
use crate::measure::{Length, Money, Unit};
use crate::plan::{BoardSource, Bought, Buy, Plan};

/// What is bought, by dealer, and what it costs in all. Boards and sheets are counted apart.
pub fn buy(plan: &Plan, named: usize) -> String {
    let table = BuyTable { lumber: plan.tells_lumber(), sheets: plan.has_sheets(), plan };
    let mut rows = table.by_dealer(named);
    rows.extend(table.by_cost());
    let head = if plan.buy.is_empty() {
        "Buy: nothing; the rack is enough.".to_string()
    } else {
        format!("Buy: {}", in_words(Bought::of(&plan.buy), plan))
    };
    format!("{head}\n{}", aligned(&table.columns(), &rows, "  "))
}

/// The table of the buy. It has columns for lumber and for sheets only where the plan has those.
struct BuyTable<'p> {
    plan: &'p Plan,
    lumber: bool,
    sheets: bool,
}

impl BuyTable<'_> {
    fn columns(&self) -> Vec<(&str, Align)> {
        use Align::{Left, Right};
        let unit = self.plan.unit;
        let mut columns = vec![("dealer", Left)];
        if self.lumber {
            columns.extend([("boards", Right), (unit_of_volume(unit), Right)]);
        }
        if self.sheets {
            columns.extend([("sheets", Right), (unit_of_area(unit), Right)]);
        }
        columns.extend([(self.plan.currency.as_str(), Right), ("", Left)]);
        columns
    }

    /// A row; what it does not count stays empty.
    fn row(&self, name: &str, counts: Vec<String>, amount: String, what: String) -> Vec<String> {
        let mut row = vec![name.to_string()];
        row.extend(counts);
        row.resize(1 + 2 * (usize::from(self.lumber) + usize::from(self.sheets)), String::new());
        row.extend([amount, what]);
        row
    }

    /// Boards with their volume, sheets with their area.
    fn counted(&self, bought: Bought) -> Vec<String> {
        let unit = self.plan.unit;
        let mut cells = Vec::new();
        if self.lumber {
            cells.extend([bought.boards.to_string(), volume(bought.board_feet.board_feet_f64(), unit)]);
        }
        if self.sheets {
            cells.extend([bought.sheets.to_string(), area(bought.square_feet, unit)]);
        }
        cells
    }

    /// A row for each dealer, and one for all beyond so many.
    fn by_dealer(&self, named: usize) -> Vec<Vec<String>> {
        let cost_of =
            |rows: &mut dyn Iterator<Item = &Buy>| rows.map(|row| row.cost).sum::<Money>().to_string();
        let by_dealer: Vec<&[Buy]> =
            self.plan.buy.chunk_by(|one, other| one.supplier == other.supplier).collect();
        let mut rows = Vec::new();
        for dealer in by_dealer.iter().take(named) {
            let mut species: Vec<&str> = dealer.iter().map(|row| row.species.as_str()).collect();
            species.dedup();
            let (counts, amount) = (self.counted(Bought::of(*dealer)), cost_of(&mut dealer.iter()));
            rows.push(self.row(&dealer[0].supplier, counts, amount, species.join(", ")));
        }
        let more = by_dealer.get(named..).unwrap_or_default();
        if !more.is_empty() {
            let rest = || more.iter().copied().flatten();
            let name = format!("{} more dealers", more.len());
            rows.push(self.row(&name, self.counted(Bought::of(rest())), cost_of(&mut rest()), String::new()));
        }
        rows
    }

    /// A row for everything else that the total is made of, and the total.
    fn by_cost(&self) -> Vec<Vec<String>> {
        let of_rack = self.plan.boards.iter().filter(|board| matches!(board.source, BoardSource::Rack(..)));
        let pulled: u64 = of_rack.map(|board| u64::from(board.copies)).sum();
        let cost = &self.plan.cost;
        let mut rows = Vec::new();
        let mut add = |name: &str, boards: Vec<String>, amount: String| {
            rows.push(self.row(name, boards, amount, String::new()));
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
        if !cost.edging.is_zero() {
            add("rolls of edging", Vec::new(), cost.edging.to_string());
        }
        if !cost.offcut_credit.is_zero() {
            add("less kept offcuts", Vec::new(), format!("-{}", cost.offcut_credit));
        }
        add("total", Vec::new(), cost.total.to_string());
        rows
    }
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

/// Every row of the buy.
pub fn rows_of_the_buy(plan: &Plan) -> String {
    if plan.buy.is_empty() {
        return String::new();
    }
    use Align::{Left, Right};
    let unit = heading_of_measures(plan);
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

/// What stands above the measures of the rows of a buy.
pub fn heading_of_measures(plan: &Plan) -> &'static str {
    match (plan.has_lumber(), plan.has_sheets()) {
        (true, true) => "measure",
        (false, true) => unit_of_area(plan.unit),
        (_, false) => unit_of_volume(plan.unit),
    }
}

/// What to ask a dealer for, as lines of a summary.
pub fn to_ask_for(plan: &Plan, job: &Job) -> String {
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
