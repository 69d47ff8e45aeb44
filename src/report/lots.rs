//! The buy of random lots, as text, CSV and JSON.

use serde_json::json;

use super::csv::{safe, table};
use super::table::{Align, aligned};
use super::{RenderError, Report};
use crate::plan::Plan;
use crate::planning::LotBuy;

/// A page for a person.
pub struct LotsText<'a>(pub &'a LotBuy);
/// A document for machines.
pub struct LotsJson<'a>(pub &'a LotBuy);
/// The lines to buy as a table.
pub struct LotsCsv<'a>(pub &'a LotBuy);

fn feet(plan: &Plan) -> f64 {
    plan.buy.iter().map(|row| row.board_feet.board_feet_f64()).sum()
}

/// Board feet and cost of all lines.
fn total(buy: &LotBuy) -> (f64, f64) {
    let rows = &buy.rows;
    (rows.iter().map(|row| row.board_feet).sum(), rows.iter().map(|row| row.cost).sum())
}

impl Report for LotsText<'_> {
    fn file_name(&self) -> &'static str {
        "lots.txt"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        use Align::{Left, Right};
        let (job, buy) = (&self.0.job, self.0);
        let columns = [
            ("dealer", Left),
            ("species", Left),
            ("class", Right),
            ("grade", Left),
            ("width", Right),
            ("length", Right),
            ("boards", Right),
            ("board feet", Right),
            ("cost", Right),
        ];
        let rows: Vec<Vec<String>> = buy
            .rows
            .iter()
            .map(|row| {
                let line = &job.lines[row.line];
                let range = |low: crate::measure::Length, high: Option<crate::measure::Length>| match high {
                    Some(high) if high > low => {
                        format!("{}..{}", low.display(job.shop.unit), high.display(job.shop.unit))
                    }
                    _ => low.display(job.shop.unit).to_string(),
                };
                vec![
                    job.suppliers[line.supplier].name.clone(),
                    line.species.clone(),
                    line.quarter.to_string(),
                    line.grade.to_string(),
                    range(line.width, line.upper.map(|upper| upper.1)),
                    range(line.length, line.upper.map(|upper| upper.0)),
                    row.boards.to_string(),
                    format!("{:.1}", row.board_feet),
                    format!("{:.2}", row.cost),
                ]
            })
            .collect();
        let (bought, cost) = total(self.0);
        let mut text = format!(
            "Buy for {} % confidence, on the mean {bought:.1} board feet and {cost:.2} {} before breaks\n{}\n",
            self.0.asked.confidence,
            job.shop.currency,
            aligned(&columns, &rows, "  ")
        );
        text.push_str(&format!(
            "Enough in {:.1} % of {} fresh samples (95 % interval {:.1} to {:.1} %).\n",
            buy.enough, buy.samples, buy.interval.0, buy.interval.1
        ));
        let mean = feet(&buy.mean);
        let beside = [
            ("every board at its upper end", Some(feet(&buy.optimistic))),
            ("every board at its mean, planned knowing each", Some(mean)),
            ("the same and 20 to 30 % more (common practice)", None),
            ("every board at its lower end", buy.pessimistic.as_ref().map(feet)),
        ];
        text.push_str("Beside it, in board feet:\n");
        for (name, amount) in beside {
            let amount = match (amount, name.contains("20 to 30")) {
                (Some(amount), _) => format!("{amount:.1}"),
                (None, true) => format!("{:.1} to {:.1}", mean * 1.2, mean * 1.3),
                (None, false) => "some part fits no board".to_string(),
            };
            text.push_str(&format!("  {name:<48} {amount}\n"));
        }
        Ok(text.into_bytes())
    }
}

impl Report for LotsJson<'_> {
    fn file_name(&self) -> &'static str {
        "lots.json"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let (job, buy) = (&self.0.job, self.0);
        let tenth = |value: f64| (value * 10.0).round() / 10.0;
        let rows: Vec<serde_json::Value> = buy
            .rows
            .iter()
            .map(|row| {
                let line = &job.lines[row.line];
                json!({
                    "supplier": job.suppliers[line.supplier].name, "species": line.species,
                    "quarter": line.quarter.to_string(), "grade": line.grade.to_string(),
                    "row": line.row, "boards": row.boards,
                    "board_feet": tenth(row.board_feet), "cost": format!("{:.2}", row.cost),
                })
            })
            .collect();
        let (bought, cost) = total(self.0);
        let document = json!({
            "format": "ripwright-lots/1", "currency": job.shop.currency, "rows": rows,
            "board_feet": tenth(bought), "cost": format!("{cost:.2}"),
            "confidence_percent": self.0.asked.confidence, "enough_percent": tenth(buy.enough),
            "interval_percent": [tenth(buy.interval.0), tenth(buy.interval.1)], "samples": buy.samples,
            "optimistic_board_feet": tenth(feet(&buy.optimistic)), "mean_board_feet": tenth(feet(&buy.mean)),
            "pessimistic_board_feet": buy.pessimistic.as_ref().map(|plan| tenth(feet(plan))),
        });
        Ok((serde_json::to_string_pretty(&document)? + "\n").into_bytes())
    }
}

impl Report for LotsCsv<'_> {
    fn file_name(&self) -> &'static str {
        "lots.csv"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let header = ["supplier", "row", "species", "quarter", "grade", "boards", "board_feet", "cost"];
        let row = |row: &crate::planning::LotRow| {
            let line = &self.0.job.lines[row.line];
            vec![
                safe(&self.0.job.suppliers[line.supplier].name),
                line.row.to_string(),
                safe(&line.species),
                line.quarter.to_string(),
                line.grade.to_string(),
                row.boards.to_string(),
                format!("{:.1}", row.board_feet),
                format!("{:.2}", row.cost),
            ]
        };
        table(&header, self.0.rows.iter().map(row).collect())
    }
}
