//! Decisions about the buy: comparisons of dealers and scenarios, as text, CSV, JSON and a page.
//!
//! Every format shows the same rows: a way of buying, what it costs, and what is proven about it.

#[cfg(feature = "sheets")]
use minijinja::Environment;
use serde::Serialize;

use super::csv::{safe, table};
use super::table::{Align, aligned};
use super::{RenderError, Report};
use crate::job::Job;
use crate::plan::{Bought, Plan};
use crate::planning::{Alternative, Comparison, Outcome, Ranked};

/// One row of a decision.
#[derive(Debug, Clone, Serialize)]
pub struct DecisionRow {
    /// The way of buying.
    pub name: String,
    /// Dealers really bought from.
    pub dealers: Vec<String>,
    /// `optimal`, `within-gap`, `stopped`, `missing` or `not-found`.
    pub status: &'static str,
    /// Money, where there is a plan.
    #[serde(flatten)]
    pub cost: Option<RowCost>,
    /// Parts that cannot be had.
    pub missing: Vec<MissingPart>,
}

/// What a way of buying costs.
#[derive(Debug, Clone, Serialize)]
pub struct RowCost {
    lumber: String,
    delivery: String,
    total: String,
    lower_bound: String,
    gap_percent: f64,
    board_feet: f64,
    boards: u64,
    waste_percent: f64,
    /// Where there are any.
    #[serde(skip_serializing_if = "Option::is_none")]
    sheets: Option<SheetsCost>,
}

/// Sheets of a way of buying: they are never added to boards.
#[derive(Debug, Clone, Serialize)]
struct SheetsCost {
    sheets: u64,
    square_feet: f64,
    waste_percent: f64,
}

/// A part that cannot be had.
#[derive(Debug, Clone, Serialize)]
pub struct MissingPart {
    product: String,
    part: String,
    reason: String,
}

/// A decision ready to be shown.
#[derive(Debug, Clone, Serialize)]
pub struct Decision {
    /// Name and version of the document.
    pub format: &'static str,
    /// Name of its files.
    #[serde(skip)]
    name: &'static str,
    /// What a row is.
    #[serde(skip)]
    heading: &'static str,
    /// Currency of all money.
    pub currency: String,
    /// Sentences that say what follows from the rows.
    pub findings: Vec<String>,
    /// The rows.
    pub rows: Vec<DecisionRow>,
}

impl RowCost {
    fn of(plan: &Plan) -> RowCost {
        let waste = &plan.waste;
        let rounded = |value: f64, places: f64| (value * places).round() / places;
        let bought = Bought::of(&plan.buy);
        let sheets = plan.has_sheets().then(|| SheetsCost {
            sheets: bought.sheets,
            square_feet: rounded(bought.square_feet, 100.0),
            waste_percent: rounded(plan.sheet_waste.percent(plan.sheet_waste.lost()), 10.0),
        });
        RowCost {
            lumber: plan.cost.lumber.to_string(),
            delivery: plan.cost.delivery.to_string(),
            total: plan.cost.total.to_string(),
            lower_bound: plan.cost.lower_bound.to_string(),
            gap_percent: plan.cost.gap_percent,
            board_feet: rounded(bought.board_feet.board_feet_f64(), 100.0),
            boards: bought.boards,
            waste_percent: rounded(waste.percent(waste.lost()), 10.0),
            sheets,
        }
    }
}

fn row(name: String, outcome: &Outcome) -> DecisionRow {
    let empty =
        DecisionRow { name, dealers: Vec::new(), status: "not-found", cost: None, missing: Vec::new() };
    match outcome {
        Outcome::NotFound => empty,
        Outcome::Missing(missing) => {
            let part = |shortfall: &crate::job::Shortfall| MissingPart {
                product: shortfall.product.clone(),
                part: shortfall.part.clone(),
                reason: shortfall.reason.clone(),
            };
            DecisionRow { status: "missing", missing: missing.iter().map(part).collect(), ..empty }
        }
        Outcome::Planned(plan) => {
            let plan = plan.plan();
            let mut dealers: Vec<String> = plan.buy.iter().map(|row| row.supplier.clone()).collect();
            dealers.dedup();
            DecisionRow { status: plan.status.name(), dealers, cost: Some(RowCost::of(plan)), ..empty }
        }
    }
}

impl Decision {
    /// Are sheets in any of its rows?
    fn has_sheets(&self) -> bool {
        self.rows.iter().filter_map(|row| row.cost.as_ref()).any(|cost| cost.sheets.is_some())
    }

    /// The comparison of dealers.
    pub fn of_dealers(comparison: &Comparison, job: &Job) -> Decision {
        let name = |alternative: &Alternative| {
            let names = alternative.names(job);
            match alternative.dealers.len() {
                0 => "the rack alone".to_string(),
                1 => format!("{} alone", names[0]),
                2 => names.join(" and "),
                _ => "all dealers".to_string(),
            }
        };
        let rows = comparison.alternatives.iter().map(|one| row(name(one), &one.outcome)).collect();
        Decision {
            format: "ripwright-compare/1",
            name: "compare",
            heading: "buying from",
            currency: job.shop.currency.clone(),
            findings: findings(comparison, job),
            rows,
        }
    }

    /// The ranking of scenarios.
    pub fn of_scenarios(ranked: &Ranked, job: &Job) -> Decision {
        let rows = ranked.scenarios.iter().map(|one| row(one.name.clone(), &one.outcome)).collect();
        let mut findings = Vec::new();
        let planned =
            ranked.scenarios.iter().filter(|one| matches!(one.outcome, Outcome::Planned(_))).count();
        for (dealer, count) in &ranked.dealers {
            findings.push(format!(
                "{} is bought from in {count} of {planned} scenarios with a plan",
                job.suppliers[*dealer].name
            ));
        }
        for (line, count) in ranked.lines.iter().filter(|(_, count)| *count == planned && planned > 0) {
            let line = &job.lines[*line];
            findings.push(format!(
                "always bought ({count} of {planned}): {} {} {} {} {} x {}",
                job.suppliers[line.supplier].name,
                line.species,
                line.quarter,
                line.grade,
                line.width.display(job.shop.unit),
                line.length.display_feet(job.shop.unit)
            ));
        }
        Decision {
            format: "ripwright-scenarios/1",
            name: "scenarios",
            heading: "scenario",
            currency: job.shop.currency.clone(),
            findings,
            rows,
        }
    }

    /// Every file that is written of it.
    pub fn files(&self) -> Vec<Box<dyn Report + '_>> {
        vec![
            Box::new(DecisionJson(self)),
            Box::new(DecisionCsv(self)),
            #[cfg(feature = "sheets")]
            Box::new(DecisionPage(self)),
        ]
    }

    fn file(&self, ending: &str) -> &'static str {
        match (self.name, ending) {
            ("compare", "json") => "compare.json",
            ("compare", "csv") => "compare.csv",
            ("compare", "html") => "compare.html",
            ("compare", _) => "compare.txt",
            (_, "json") => "scenarios.json",
            (_, "csv") => "scenarios.csv",
            (_, "html") => "scenarios.html",
            _ => "scenarios.txt",
        }
    }
}

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
        let mut columns = vec![
            (decision.heading, Left),
            ("total", Right),
            (if sheets { "wood" } else { "lumber" }, Right),
            ("delivery", Right),
            ("board feet", Right),
            ("waste", Right),
        ];
        if sheets {
            columns.extend([("square feet", Right), ("waste", Right)]);
        }
        columns.extend([("gap", Right), ("bought from", Left)]);
        let cells = |row: &DecisionRow| match &row.cost {
            Some(cost) => {
                let mut cells = vec![
                    row.name.clone(),
                    cost.total.clone(),
                    cost.lumber.clone(),
                    cost.delivery.clone(),
                    format!("{:.2}", cost.board_feet),
                    format!("{:.1} %", cost.waste_percent),
                ];
                match &cost.sheets {
                    Some(of) => {
                        cells.push(format!("{:.2}", of.square_feet));
                        cells.push(format!("{:.1} %", of.waste_percent));
                    }
                    None if sheets => cells.extend([String::new(), String::new()]),
                    None => {}
                }
                cells.extend([format!("{:.2} %", cost.gap_percent), row.dealers.join(", ")]);
                cells
            }
            None => {
                let why = match row.missing.len() {
                    0 => "no plan found in the time".to_string(),
                    1 => "cannot supply 1 part".to_string(),
                    many => format!("cannot supply {many} parts"),
                };
                let mut cells = vec![row.name.clone()];
                cells.resize(columns.len() - 1, "-".to_string());
                cells.push(why);
                cells
            }
        };
        let rows: Vec<Vec<String>> = decision.rows.iter().map(cells).collect();
        let mut text = format!("Costs in {}\n{}", decision.currency, aligned(&columns, &rows, "  "));
        for row in decision.rows.iter().filter(|row| !row.missing.is_empty()) {
            const SHOWN: usize = 5;
            text.push_str(&format!("\n{} cannot supply:\n", row.name));
            for part in row.missing.iter().take(SHOWN) {
                text.push_str(&format!("  {} / {}: {}\n", part.product, part.part, part.reason));
            }
            if row.missing.len() > SHOWN {
                text.push_str(&format!("  and {} more\n", row.missing.len() - SHOWN));
            }
        }
        if !decision.findings.is_empty() {
            text.push('\n');
        }
        for finding in &decision.findings {
            text.push_str(&format!("{finding}\n"));
        }
        Ok(text.into_bytes())
    }
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
        let total = |row: &DecisionRow| row.cost.as_ref().and_then(|cost| cost.total.parse::<f64>().ok());
        let largest = self.0.rows.iter().filter_map(total).fold(0.0, f64::max).max(0.01);
        let bars: Vec<f64> =
            self.0.rows.iter().map(|row| total(row).map_or(0.0, |total| total / largest * 100.0)).collect();
        let mut environment = Environment::new();
        environment.set_auto_escape_callback(|_| minijinja::AutoEscape::Html);
        environment.add_template("decision", include_str!("decision.html"))?;
        let context = minijinja::context! {
            title => if self.0.format.contains("compare") { "Dealers compared" } else { "Scenarios ranked" },
            heading => self.0.heading,
            sheets => self.0.has_sheets(),
            currency => self.0.currency.clone(),
            rows => minijinja::value::Serde(self.0.rows.clone()),
            findings => self.0.findings.clone(),
            bars => bars,
        };
        Ok(environment.get_template("decision")?.render(context)?.into_bytes())
    }
}

fn findings(comparison: &Comparison, job: &Job) -> Vec<String> {
    let mut findings = Vec::new();
    let plan = |place: usize| comparison.alternatives[place].plan();
    let names = |place: usize| comparison.alternatives[place].names(job).join(" and ");
    let Some((best, cheapest)) = comparison.best.and_then(|place| Some((place, plan(place)?))) else {
        return vec!["No way of buying meets the demand.".to_string()];
    };
    let mut bought: Vec<&str> = cheapest.buy.iter().map(|row| row.supplier.as_str()).collect();
    bought.dedup();
    let currency = &job.shop.currency;
    if bought.is_empty() {
        return vec!["Nothing need be bought: the rack is enough.".to_string()];
    }
    match comparison.best_alone.and_then(|place| Some((place, plan(place)?))) {
        None => findings.push(format!(
            "No dealer alone can supply the job; the cheapest buy is from {}: {} {currency}.",
            bought.join(", "),
            cheapest.cost.total
        )),
        Some((alone, _)) if bought.len() <= 1 => findings.push(format!(
            "One dealer is cheapest, delivery counted: {} for {} {currency}.",
            names(alone),
            cheapest.cost.total
        )),
        Some((alone, single)) => findings.push(format!(
            "Splitting the order between {} costs {} {currency} and saves {} against {} alone, deliveries counted.",
            bought.join(", "),
            cheapest.cost.total,
            single.cost.total - cheapest.cost.total,
            names(alone)
        )),
    }
    if let Some((pair, plan)) = comparison.best_pair.and_then(|place| Some((place, plan(place)?)))
        && pair != best
    {
        findings.push(format!("Best pair: {} for {} {currency}.", names(pair), plan.cost.total));
    }
    if let (Some((rise, other)), Some(alone)) = (comparison.break_even, comparison.best_alone) {
        findings.push(format!(
            "If one dealer must do, {} stays the cheapest until its prices rise by {rise:.1} %; then {} is.",
            names(alone),
            job.suppliers[other].name
        ));
    }
    findings
}
