//! Pictures of the buy: money by dealer and wood, and wood by class and grade, each as bars of one scale.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::measure::Money;
use crate::plan::{Buy, Plan};
use crate::report::measured::volume;

/// Length of the longest bar, in percent of its column.
const LONGEST: f64 = 100.0;

/// A bar with its name and its amount.
#[derive(Debug, Serialize)]
pub struct AmountView {
    name: String,
    amount: String,
    bar: f64,
}

/// What is spent at each dealer for each wood, the most first. Empty where there is one only.
pub fn money(plan: &Plan) -> Vec<AmountView> {
    let mut spent: BTreeMap<(&str, &str), Money> = BTreeMap::new();
    for row in &plan.buy {
        let sum = spent.entry((&row.supplier, &row.species)).or_insert(Money::ZERO);
        *sum += row.cost;
    }
    let named = spent
        .into_iter()
        .map(|((dealer, species), cost)| (format!("{dealer}, {species}"), cost.to_string(), cost.to_f64()));
    bars(named.collect())
}

/// Lumber bought of each class and grade, the most first. Empty where there is one only.
pub fn classes(plan: &Plan) -> Vec<AmountView> {
    let mut bought: BTreeMap<String, f64> = BTreeMap::new();
    let lumber = |row: &&Buy| row.sheet.is_none();
    for row in plan.buy.iter().filter(lumber) {
        *bought.entry(format!("{} {}", row.quarter, row.grade)).or_insert(0.0) +=
            row.board_feet.board_feet_f64();
    }
    let named = bought.into_iter().map(|(name, feet)| (name, volume(feet, plan.unit), feet));
    bars(named.collect())
}

fn bars(mut amounts: Vec<(String, String, f64)>) -> Vec<AmountView> {
    if amounts.len() < 2 {
        return Vec::new();
    }
    amounts.sort_by(|one, other| other.2.total_cmp(&one.2));
    let most = amounts[0].2.max(f64::MIN_POSITIVE);
    let view = |(name, amount, size): (String, String, f64)| AmountView {
        name,
        amount,
        bar: (size / most * LONGEST * 10.0).round() / 10.0,
    };
    amounts.into_iter().map(view).collect()
}
