//! What is glued on the edges of parts of sheets, to be bought by the length or by the roll.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_traits::ToPrimitive;

use crate::job::{EdgingRoll, Job};
use crate::measure::{Length, Money, Overflow};

/// Edging of one kind.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Edging {
    /// Species of the parts, as written.
    pub species: String,
    /// Thickness of the sheets, which it covers.
    pub sheet: Length,
    /// Its own thickness.
    pub thickness: Length,
    /// Edges.
    pub edges: u64,
    /// Length of all of them.
    pub length: Length,
    /// Rolls to buy, by their length; none where nobody says what a roll costs.
    pub rolls: Vec<Rolls>,
}

/// Rolls of one length.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Rolls {
    /// Length of a roll.
    pub length: Length,
    /// How many.
    pub rolls: u64,
    /// What they cost.
    pub cost: Money,
}

/// All edging of the parts that are wanted, by species, sheet and thickness. Edges of solid wood are parts of their own.
///
/// # Errors
/// If a sum is too large to be held exactly.
pub fn edging(job: &Job) -> Result<Vec<Edging>, Overflow> {
    let mut sums: BTreeMap<(&str, Length, Length), (u64, i64)> = BTreeMap::new();
    for part in job.parts.iter().filter(|part| part.required > 0) {
        let Some(sheet) = part.sheet.as_ref().filter(|sheet| sheet.lipping.is_empty()) else { continue };
        for (thickness, length) in sheet.edges.lengths(part.length, part.width) {
            let sum = sums.entry((&part.species, part.thickness, thickness)).or_default();
            sum.0 += part.required;
            let all = i64::try_from(part.required).ok().and_then(|many| length.base().checked_mul(many));
            sum.1 = all.and_then(|all| sum.1.checked_add(all)).ok_or(Overflow)?;
        }
    }
    let edging = sums.into_iter().map(|((species, sheet, thickness), (edges, length))| {
        let length = Length::from_base(length);
        let such = job.rolls.iter().filter(|roll| roll.covers(species, sheet, thickness));
        Ok(Edging {
            species: species.to_string(),
            sheet,
            thickness,
            edges,
            length,
            rolls: cheapest_rolls(such.collect(), with_waste(job, length)?)?,
        })
    });
    edging.collect()
}

/// What all rolls cost.
pub fn cost_of_rolls(edging: &[Edging]) -> Money {
    edging.iter().flat_map(|edging| &edging.rolls).map(|rolls| rolls.cost).sum()
}

/// A length and what is cut off beside it.
fn with_waste(job: &Job, length: Length) -> Result<i128, Overflow> {
    let hundred = Money::cents(10_000).to_ratio();
    let share = (&hundred + job.shop.edging.roll_waste_percent.to_ratio()) / hundred;
    let all = share * BigInt::from(length.base());
    all.ceil().to_integer().to_i128().ok_or(Overflow)
}

/// The cheapest rolls that reach so far; of those that cost the same, the fewest.
fn cheapest_rolls(mut such: Vec<&EdgingRoll>, length: i128) -> Result<Vec<Rolls>, Overflow> {
    // The cheapest by their length first: little is saved by the others, and the search ends early.
    such.sort_by(|one, other| rate(one).total_cmp(&rate(other)).then(other.length.cmp(&one.length)));
    such.truncate(MOST_KINDS);
    let mut search = RollSearch { such: &such, best: None };
    search.go(0, length, &mut Vec::new(), Money::ZERO)?;
    let counts = search.best.map_or(Vec::new(), |(_, _, counts)| counts);
    let rolls = counts.into_iter().zip(&such).filter(|(many, _)| *many > 0);
    let rolls =
        rolls.map(|(rolls, roll)| Ok(Rolls { length: roll.length, rolls, cost: times(roll.price, rolls)? }));
    rolls.collect()
}

/// What a roll costs by its length.
fn rate(roll: &EdgingRoll) -> f64 {
    roll.price.to_f64() / roll.length.base() as f64
}

fn times(price: Money, rolls: u64) -> Result<Money, Overflow> {
    Money::round_half_up(&(price.to_ratio() * BigInt::from(rolls)))
}

/// Depth first over how many of each roll.
struct RollSearch<'r> {
    such: &'r [&'r EdgingRoll],
    /// Cost, rolls in all, and how many of each.
    best: Option<(Money, u64, Vec<u64>)>,
}

impl RollSearch<'_> {
    fn go(&mut self, place: usize, left: i128, counts: &mut Vec<u64>, cost: Money) -> Result<(), Overflow> {
        let in_all: u64 = counts.iter().sum();
        if left <= 0 {
            let better = self.best.as_ref().is_none_or(|(least, few, _)| (cost, in_all) < (*least, *few));
            if better {
                self.best = Some((cost, in_all, counts.clone()));
            }
            return Ok(());
        }
        let Some(roll) = self.such.get(place) else { return Ok(()) };
        // What is left costs at least as much as by the cheapest length that is still to come.
        let least = cost.to_f64() + rate(roll) * left as f64;
        if self.best.as_ref().is_some_and(|(best, ..)| least > best.to_f64() + 1e-6) {
            return Ok(());
        }
        let long = i128::from(roll.length.base());
        let most = ((left + long - 1) / long) as u64;
        // A shorter roll of another kind may serve for the last ones; more than a few of them never do.
        let fewest = most.saturating_sub(MOST_LEFT_TO_OTHERS);
        for many in (fewest..=most).rev() {
            counts.push(many);
            self.go(place + 1, left - long * i128::from(many), counts, cost + times(roll.price, many)?)?;
            counts.pop();
        }
        Ok(())
    }
}

/// Kinds of rolls that one purchase may mix.
const MOST_KINDS: usize = 4;

/// Rolls of the cheapest kind that others may stand in for.
const MOST_LEFT_TO_OTHERS: u64 = 40;
