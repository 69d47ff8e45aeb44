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

/// Adds products to others.
pub fn add(products: &mut BTreeMap<String, u64>, more: &BTreeMap<String, u64>) {
    for (product, count) in more {
        let sum = products.entry(product.clone()).or_insert(0);
        *sum = sum.saturating_add(*count);
    }
}
