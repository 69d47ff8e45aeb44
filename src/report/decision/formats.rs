//! The formats of a decision.

#[cfg(feature = "sheets")]
use minijinja::Environment;

use super::{Decision, DecisionRow, RowDifference};
use crate::report::csv::{safe, table};
use crate::report::table::{Align, aligned};
use crate::report::{RenderError, Report};

/// A decision as aligned text.
pub struct DecisionText<'d>(pub &'d Decision);
/// A decision for machines.
pub struct DecisionJson<'d>(pub &'d Decision);
/// A decision as a table.
pub struct DecisionCsv<'d>(pub &'d Decision);
/// A decision as a page with a chart of the totals.
#[cfg(feature = "sheets")]
pub struct DecisionPage<'d>(pub &'d Decision);

impl Report for DecisionText<'_> {
    fn file_name(&self) -> &'static str {
        self.0.file("txt")
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let decision = self.0;
        use Align::{Left, Right};
        let sheets = decision.has_sheets();
        let against = decision.heading_of_differences();
        let mut columns = vec![
            (decision.heading, Left),
            ("total", Right),
            (&against, Right),
            (if sheets { "wood" } else { "lumber" }, Right),
            ("delivery", Right),
            ("board feet", Right),
            ("waste", Right),
        ];
        if sheets {
            columns.extend([("square feet", Right), ("waste", Right)]);
        }
        columns.extend([("gap", Right), ("bought from", Left)]);
        let cells = |row| cells_of(row, columns.len(), sheets);
        let rows: Vec<Vec<String>> = decision.rows.iter().map(cells).collect();
        let mut text = format!("Costs in {}\n{}", decision.currency, aligned(&columns, &rows, "  "));
        decision.rows.iter().for_each(|row| text.push_str(&missing_of(row)));
        if !decision.findings.is_empty() {
            text.push('\n');
        }
        for finding in &decision.findings {
            text.push_str(&format!("{finding}\n"));
        }
        Ok(text.into_bytes())
    }
}

impl Decision {
    fn heading_of_differences(&self) -> String {
        self.against.as_ref().map_or("difference".to_string(), |name| format!("against {name}"))
    }
}

impl RowDifference {
    /// In a cell: nothing is told that the gaps may turn around.
    fn told(&self) -> String {
        match (self.hidden_by_gap, self.cost.starts_with('-')) {
            (true, _) => "within the gap".to_string(),
            (false, true) => self.cost.clone(),
            (false, false) => format!("+{}", self.cost),
        }
    }
}

/// Width of the drawing of a difference, and how far its ends stay inside.
#[cfg(feature = "sheets")]
const WHISKERS: (f64, f64) = (200.0, 4.0);

/// Where on a drawing a difference lies: a line from the least to the most that it can be, a mark at the plans' own, and
/// a line where both cost the same.
#[cfg(feature = "sheets")]
#[derive(Debug, Clone, serde::Serialize)]
struct Whiskers {
    zero: f64,
    /// Of the row itself; none of the one that all are held against.
    least: Option<f64>,
    most: f64,
    cost: f64,
}

/// The differences of all rows that have a plan, on one scale.
#[cfg(feature = "sheets")]
fn whiskers(rows: &[DecisionRow]) -> Vec<Option<Whiskers>> {
    let number = |text: &String| text.parse::<f64>().unwrap_or(0.0);
    let of_rows: Vec<Option<Option<[f64; 3]>>> = rows
        .iter()
        .map(|row| {
            let difference = row.cost.as_ref()?.difference.as_ref();
            Some(difference.map(|of| [&of.least, &of.cost, &of.most].map(number)))
        })
        .collect();
    let all = || of_rows.iter().flatten().flatten().flatten().copied();
    let (low, high) = (all().fold(0.0, f64::min), all().fold(0.0, f64::max));
    let (width, inset) = WHISKERS;
    let at = |value: f64| {
        let share = (value - low) / (high - low).max(0.01);
        ((inset + share * (width - 2.0 * inset)) * 10.0).round() / 10.0
    };
    let view = |of: Option<[f64; 3]>| match of {
        Some([least, cost, most]) => {
            Whiskers { zero: at(0.0), least: Some(at(least)), most: at(most), cost: at(cost) }
        }
        None => Whiskers { zero: at(0.0), least: None, most: at(0.0), cost: at(0.0) },
    };
    of_rows.into_iter().map(|row| row.map(view)).collect()
}

/// A row of the table in text.
fn cells_of(row: &DecisionRow, columns: usize, sheets: bool) -> Vec<String> {
    let mut cells = vec![row.name.clone()];
    let Some(cost) = &row.cost else {
        cells.resize(columns - 1, "-".to_string());
        cells.push(match row.missing.len() {
            0 => "no plan found in the time".to_string(),
            1 => "cannot supply 1 part".to_string(),
            many => format!("cannot supply {many} parts"),
        });
        return cells;
    };
    cells.extend([
        cost.total.clone(),
        cost.difference.as_ref().map_or("-".to_string(), RowDifference::told),
        cost.lumber.clone(),
        cost.delivery.clone(),
        format!("{:.2}", cost.board_feet),
        format!("{:.1} %", cost.waste_percent),
    ]);
    match &cost.sheets {
        Some(of) => {
            cells.extend([format!("{:.2}", of.square_feet), format!("{:.1} %", of.waste_percent)]);
        }
        None if sheets => cells.extend([String::new(), String::new()]),
        None => {}
    }
    cells.extend([format!("{:.2} %", cost.gap_percent), row.dealers.join(", ")]);
    cells
}

/// The first parts that a way cannot supply, with the reasons; empty if it supplies all.
fn missing_of(row: &DecisionRow) -> String {
    const SHOWN: usize = 5;
    if row.missing.is_empty() {
        return String::new();
    }
    let mut text = format!("\n{} cannot supply:\n", row.name);
    for part in row.missing.iter().take(SHOWN) {
        text.push_str(&format!("  {} / {}: {}\n", part.product, part.part, part.reason));
    }
    if row.missing.len() > SHOWN {
        text.push_str(&format!("  and {} more\n", row.missing.len() - SHOWN));
    }
    text
}

impl Report for DecisionJson<'_> {
    fn file_name(&self) -> &'static str {
        self.0.file("json")
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        Ok((serde_json::to_string_pretty(self.0)? + "\n").into_bytes())
    }
}

impl Report for DecisionCsv<'_> {
    fn file_name(&self) -> &'static str {
        self.0.file("csv")
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let header = [
            "name",
            "status",
            "bought_from",
            "total",
            "lumber",
            "delivery",
            "lower_bound",
            "gap_percent",
            "boards",
            "board_feet",
            "waste_percent",
            "missing",
            "sheets",
            "square_feet",
            "sheet_waste_percent",
            "difference",
            "difference_least",
            "difference_most",
        ];
        let cells = |row: &DecisionRow| {
            let missing: Vec<String> =
                row.missing.iter().map(|part| format!("{} / {}", part.product, part.part)).collect();
            let mut cells = vec![safe(&row.name), row.status.to_string(), safe(&row.dealers.join("; "))];
            match &row.cost {
                Some(cost) => cells.extend([
                    cost.total.clone(),
                    cost.lumber.clone(),
                    cost.delivery.clone(),
                    cost.lower_bound.clone(),
                    cost.gap_percent.to_string(),
                    cost.boards.to_string(),
                    cost.board_feet.to_string(),
                    cost.waste_percent.to_string(),
                ]),
                None => cells.extend(std::iter::repeat_n(String::new(), 8)),
            }
            cells.push(safe(&missing.join("; ")));
            match row.cost.as_ref().and_then(|cost| cost.sheets.as_ref()) {
                Some(of) => cells.extend([
                    of.sheets.to_string(),
                    of.square_feet.to_string(),
                    of.waste_percent.to_string(),
                ]),
                None => cells.extend(std::iter::repeat_n(String::new(), 3)),
            }
            match row.cost.as_ref().and_then(|cost| cost.difference.as_ref()) {
                Some(of) => cells.extend([of.cost.clone(), of.least.clone(), of.most.clone()]),
                None => cells.extend(std::iter::repeat_n(String::new(), 3)),
            }
            cells
        };
        table(&header, self.0.rows.iter().map(cells).collect())
    }
}

#[cfg(feature = "sheets")]
impl Report for DecisionPage<'_> {
    fn file_name(&self) -> &'static str {
        self.0.file("html")
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let mut environment = Environment::new();
        environment.set_auto_escape_callback(|_| minijinja::AutoEscape::Html);
        environment.add_template("decision", include_str!("../decision.html"))?;
        let context = minijinja::context! {
            title => if self.0.format.contains("compare") { "Dealers compared" } else { "Scenarios ranked" },
            heading => self.0.heading,
            sheets => self.0.has_sheets(),
            currency => self.0.currency.clone(),
            rows => minijinja::value::Serde(self.0.rows.clone()),
            findings => self.0.findings.clone(),
            against => self.0.heading_of_differences(),
            told => self.0.rows.iter().map(|row| Some(row.cost.as_ref()?.difference.as_ref()?.told())).collect::<Vec<_>>(),
            whiskers => minijinja::value::Serde(whiskers(&self.0.rows)),
        };
        Ok(environment.get_template("decision")?.render(context)?.into_bytes())
    }
}
