//! `buy.csv`, `cuts.csv` and `setups.csv`: tables for spreadsheets and scripts.

use super::{RenderError, Report};
use crate::job::Station;
use crate::planning::Checked;

/// What to buy.
pub struct BuyCsv<'p>(pub &'p Checked);
/// Every cut of every board, in order.
pub struct CutsCsv<'p>(pub &'p Checked);
/// Every setting of the saw.
pub struct SetupsCsv<'p>(pub &'p Checked);

/// A text that a spreadsheet would run as a formula gets an apostrophe in front.
pub fn safe(text: &str) -> String {
    let formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    if formula { format!("'{text}") } else { text.to_string() }
}

/// A table as CSV.
pub fn table(header: &[&str], rows: Vec<Vec<String>>) -> Result<Vec<u8>, RenderError> {
    let failed = |error: ::csv::Error| RenderError::Csv(error.to_string());
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    writer.write_record(header).map_err(failed)?;
    for row in rows {
        writer.write_record(&row).map_err(failed)?;
    }
    writer.into_inner().map_err(|error| RenderError::Csv(error.to_string()))
}

impl Report for BuyCsv<'_> {
    fn file_name(&self) -> &'static str {
        "buy.csv"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let plan = self.0.plan();
        let header = [
            "supplier",
            "species",
            "quarter",
            "grade",
            "width",
            "length",
            "boards",
            "board_feet",
            "price",
            "per",
            "percent_off",
            "cost",
            "width_to",
            "length_to",
            "grain",
            "core",
            "square_feet",
        ];
        let row = |row: &crate::plan::Buy| {
            vec![
                safe(&row.supplier),
                safe(&row.species),
                row.quarter.to_string(),
                row.grade.to_string(),
                row.width.to_f64(plan.unit).to_string(),
                row.length.to_f64(plan.unit).to_string(),
                row.boards.to_string(),
                format!("{:.4}", row.board_feet.board_feet_f64()),
                row.price.price(),
                row.per.name().to_string(),
                row.percent_off.price(),
                row.cost.to_string(),
                row.ranges()[0].1.to_f64(plan.unit).to_string(),
                row.ranges()[1].1.to_f64(plan.unit).to_string(),
                row.sheet.as_ref().map_or("", |sheet| sheet.grain.name()).to_string(),
                row.sheet.as_ref().map_or(String::new(), |sheet| safe(&sheet.core)),
                row.sheet.as_ref().map_or(String::new(), |_| format!("{:.4}", row.square_feet())),
            ]
        };
        table(&header, plan.buy.iter().map(row).collect())
    }
}

impl Report for CutsCsv<'_> {
    fn file_name(&self) -> &'static str {
        "cuts.csv"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let plan = self.0.plan();
        let header = ["board", "source", "copies", "step", "kind", "setting", "x0", "y0", "x1", "y1"];
        let mut rows = Vec::new();
        for board in &plan.boards {
            let source = board.source.label();
            for cut in &board.cuts {
                let number = |length: crate::measure::Length| length.to_f64(plan.unit).to_string();
                rows.push(vec![
                    board.id.clone(),
                    safe(&source),
                    board.copies.to_string(),
                    cut.step.to_string(),
                    cut.kind.name().to_string(),
                    cut.setting.map(|(_, setting)| number(setting)).unwrap_or_default(),
                    number(cut.x0),
                    number(cut.y0),
                    number(cut.x1),
                    number(cut.y1),
                ]);
            }
        }
        table(&header, rows)
    }
}

impl Report for SetupsCsv<'_> {
    fn file_name(&self) -> &'static str {
        "setups.csv"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let (plan, saw) = (self.0.plan(), &self.0.job().shop.saw);
        let header = [
            "order",
            "kind",
            "setting",
            "fence_reading",
            "cuts",
            "boards",
            "beyond_reach",
            "narrow",
            "station",
        ];
        let rows = plan.setups.iter().enumerate().map(|(place, setup)| {
            vec![
                (place + 1).to_string(),
                setup.kind.name().to_string(),
                setup.setting.to_f64(plan.unit).to_string(),
                setup.fence_reading(saw).to_f64(plan.unit).to_string(),
                setup.cuts.to_string(),
                setup.boards.join(" "),
                if setup.beyond_reach { "yes" } else { "no" }.to_string(),
                if setup.narrow { "yes" } else { "no" }.to_string(),
                setup.station.map_or("", Station::name).to_string(),
            ]
        });
        table(&header, rows.collect())
    }
}

#[cfg(test)]
mod tests {
    use super::safe;

    #[test]
    fn formulas_are_made_plain_text() {
        assert_eq!(safe("=HYPERLINK(1)"), "'=HYPERLINK(1)");
        assert_eq!(safe("@sum"), "'@sum");
        assert_eq!(safe("red oak"), "red oak");
    }
}
