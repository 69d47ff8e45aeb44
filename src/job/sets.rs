//! Sets of pieces that look best from one board: the strips of a panel, and parts of a product that are matched.

use std::collections::BTreeMap;

use super::blank::Make;
use super::model::Job;
use crate::index::PartIndex;

/// Pieces that look best from one board.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct MatchedSet {
    /// The product that has it.
    pub product: String,
    /// Its name in `parts.csv`, or that of the part whose strips they are.
    pub name: String,
    /// Are they the strips of one panel?
    pub is_panel: bool,
    /// Parts, each with its pieces in one set, in the order of the job.
    pub members: Vec<(PartIndex, u64)>,
    /// Sets wanted.
    pub wanted: u64,
}

impl Job {
    /// All sets of two pieces or more, by product and name. A product has one of each name; where the number of products
    /// does not say how many pieces are in one, the sets are as small as they can be.
    pub fn sets(&self) -> Vec<MatchedSet> {
        let mut named: BTreeMap<(&str, &str), Vec<(PartIndex, u64)>> = BTreeMap::new();
        let mut sets = Vec::new();
        for (index, part) in self.parts.iter_enumerated().filter(|(_, part)| part.required > 0) {
            if !part.matched.is_empty() {
                let set = named.entry((&part.product, &part.matched)).or_default();
                set.push((index, part.blanks_wanted()));
            } else if let Make::Panel(strips) = part.blank.make {
                sets.push(MatchedSet {
                    product: part.product.clone(),
                    name: part.part.clone(),
                    is_panel: true,
                    members: vec![(index, u64::from(strips))],
                    wanted: part.required,
                });
            }
        }
        for ((product, name), members) in named {
            let of_product = self.orders.iter().filter(|order| order.product == product);
            let products: u64 = of_product.map(|order| order.quantity).sum();
            let divides = products > 0 && members.iter().all(|(_, pieces)| pieces % products == 0);
            let common = members.iter().fold(0, |all, (_, pieces)| num_integer::gcd(all, *pieces));
            let wanted = if divides { products } else { common };
            let each = members.into_iter().map(|(part, pieces)| (part, pieces / wanted));
            let (product, name) = (product.to_string(), name.to_string());
            sets.push(MatchedSet { product, name, is_panel: false, members: each.collect(), wanted });
        }
        sets.retain(|set| set.pieces() > 1);
        sets.sort_by(|one, other| (&one.product, &one.name).cmp(&(&other.product, &other.name)));
        sets
    }
}

impl MatchedSet {
    /// Pieces in one set.
    pub fn pieces(&self) -> u64 {
        self.members.iter().map(|(_, pieces)| pieces).sum()
    }

    /// Whole sets that some pieces of each part give.
    pub fn whole_in(&self, pieces: impl Fn(PartIndex) -> u64) -> u64 {
        self.members.iter().map(|(part, each)| pieces(*part) / each).min().unwrap_or(0)
    }
}
