//! Decisions about the buy: comparisons of dealers and scenarios, as text, CSV, JSON and a page.
//!
//! Every format shows the same rows: a way of buying, what it costs, and what is proven about it.

mod formats;

#[cfg(feature = "sheets")]
pub use self::formats::DecisionPage;
pub use self::formats::{DecisionCsv, DecisionJson, DecisionText};
use serde::Serialize;

use crate::job::Job;
use crate::plan::{Bought, Plan};
use crate::planning::{AS_IT_IS, Alternative, Comparison, Difference, Outcome, Ranked};
use crate::report::Report;

/// Price lines that are bought in every scenario, of which so many are named at most.
const LINES_NAMED: usize = 8;

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
    /// Where boards are drawn: what the spare ones cost, which are in the total.
    #[serde(skip_serializing_if = "Option::is_none")]
    spares: Option<SparesCost>,
    /// Against the row that the decision names; none of that row itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    difference: Option<RowDifference>,
}

/// How much more a row costs than the one that all are held against.
#[derive(Debug, Clone, Serialize)]
pub struct RowDifference {
    /// As planned.
    cost: String,
    /// At least and at most, once both are planned as cheaply as can be.
    least: String,
    most: String,
    /// May it be either dearer or cheaper? Then the plans' difference says nothing.
    hidden_by_gap: bool,
}

/// What makes a buy of drawn boards sure enough.
#[derive(Debug, Clone, Serialize)]
struct SparesCost {
    cost: String,
    enough_percent: f64,
    asked_percent: f64,
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
    /// The row that the others are held against.
    pub against: Option<String>,
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
            spares: plan.confidence.as_ref().map(|of| SparesCost {
                cost: of.cost.to_string(),
                enough_percent: rounded(of.enough, 100.0),
                asked_percent: of.asked,
            }),
            difference: None,
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

/// The rows, each held against the one at a place, with the name of that one.
fn held_against(place: Option<usize>, outcomes: &[(String, &Outcome)]) -> (Option<String>, Vec<DecisionRow>) {
    let known = |outcome: &Outcome| match outcome {
        Outcome::Planned(checked) => {
            let cost = &checked.plan().cost;
            Some((cost.total, cost.lower_bound))
        }
        Outcome::Missing(_) | Outcome::NotFound => None,
    };
    let against = place.and_then(|place| Some((place, known(outcomes[place].1)?)));
    let rows = outcomes.iter().enumerate().map(|(number, (name, outcome))| {
        let mut row = row(name.clone(), outcome);
        if let (Some(cost), Some((place, one)), Some(other)) = (&mut row.cost, against, known(outcome))
            && number != place
        {
            let difference = Difference::between(one, other);
            cost.difference = Some(RowDifference {
                cost: (other.0 - one.0).to_string(),
                least: difference.least.to_string(),
                most: difference.most.to_string(),
                hidden_by_gap: difference.is_hidden(),
            });
        }
        row
    });
    (against.map(|(place, _)| outcomes[place].0.clone()), rows.collect())
}

/// Where boards are drawn: that spare ones are in the costs.
fn of_spares(rows: &[DecisionRow]) -> Option<String> {
    let spares = rows.iter().filter_map(|row| row.cost.as_ref()?.spares.as_ref());
    let asked = spares.map(|spares| spares.asked_percent).next()?;
    Some(format!(
        "boards are drawn as their grade and size say, and every cost has the spare boards without which fewer than \
         {asked} % of fresh lots would give every part"
    ))
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
        let outcomes: Vec<(String, &Outcome)> =
            comparison.alternatives.iter().map(|one| (name(one), &one.outcome)).collect();
        let (against, rows) = held_against(comparison.best, &outcomes);
        let mut findings = findings(comparison, job);
        findings.extend(of_spares(&rows));
        Decision {
            format: "ripwright-compare/1",
            name: "compare",
            heading: "buying from",
            currency: job.shop.currency.clone(),
            against,
            findings,
            rows,
        }
    }

    /// The ranking of scenarios.
    pub fn of_scenarios(ranked: &Ranked, job: &Job) -> Decision {
        let outcomes: Vec<(String, &Outcome)> =
            ranked.scenarios.iter().map(|one| (one.name.clone(), &one.outcome)).collect();
        let as_it_is = outcomes.iter().position(|(name, _)| name == AS_IT_IS);
        let (against, rows) = held_against(as_it_is, &outcomes);
        let mut findings: Vec<String> = of_spares(&rows).into_iter().collect();
        let planned =
            ranked.scenarios.iter().filter(|one| matches!(one.outcome, Outcome::Planned(_))).count();
        for (dealer, count) in &ranked.dealers {
            findings.push(format!(
                "{} is bought from in {count} of {planned} scenarios with a plan",
                job.suppliers[*dealer].name
            ));
        }
        let always: Vec<_> =
            ranked.lines.iter().filter(|(_, count)| *count == planned && planned > 0).collect();
        for (line, count) in always.iter().take(LINES_NAMED) {
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
        if always.len() > LINES_NAMED {
            findings.push(format!(
                "and {} more price lines are bought in all of them",
                always.len() - LINES_NAMED
            ));
        }
        Decision {
            format: "ripwright-scenarios/1",
            name: "scenarios",
            heading: "scenario",
            currency: job.shop.currency.clone(),
            against,
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
