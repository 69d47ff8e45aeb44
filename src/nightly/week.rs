//! What weeks ask for.

use std::collections::BTreeMap;

use jiff::civil::Date;

/// What one week asks for, or several weeks planned as one.
#[derive(Debug, Clone)]
pub struct Week {
    /// Its Monday; `None` where nothing has a date.
    pub first: Option<Date>,
    /// The Monday of its last week.
    pub last: Option<Date>,
    /// Products wanted.
    pub products: BTreeMap<String, u64>,
}

impl Week {
    /// The same in as few weeks of even size as have no more than so many parts each, where one product alone has no more.
    /// `parts` are those of each product.
    pub fn split(self, parts: &BTreeMap<&str, usize>, most: usize) -> Vec<Week> {
        let parts_of = |product: &String| parts.get(product.as_str()).copied().unwrap_or(0);
        let all: usize = self.products.keys().map(parts_of).sum();
        if all <= most {
            return vec![self];
        }
        let even = all.div_ceil(all.div_ceil(most));
        let mut weeks: Vec<(usize, BTreeMap<String, u64>)> = Vec::new();
        for (product, count) in self.products {
            let own = parts_of(&product);
            match weeks.last_mut() {
                Some((taken, products)) if *taken < even && *taken + own <= most => {
                    *taken += own;
                    products.insert(product, count);
                }
                _ => weeks.push((own, BTreeMap::from([(product, count)]))),
            }
        }
        let week = |(_, products)| Week { first: self.first, last: self.last, products };
        weeks.into_iter().map(week).collect()
    }
}

/// Adds products to others.
pub fn add(products: &mut BTreeMap<String, u64>, more: &BTreeMap<String, u64>) {
    for (product, count) in more {
        let sum = products.entry(product.clone()).or_insert(0);
        *sum = sum.saturating_add(*count);
    }
}
