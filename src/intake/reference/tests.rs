//! The reference names what the readers read.

use std::collections::BTreeSet;

use super::*;
use crate::intake::log::Log;
use crate::intake::shop::parse_shop;
use crate::job::Shop;

fn read(text: &str) -> Shop {
    let mut log = Log::default();
    let shop = parse_shop(text, &mut log);
    assert!(log.faults.is_empty() && log.warnings.is_empty(), "{:?} {:?}", log.faults, log.warnings);
    shop
}

/// Every key that a new job names is one that is read, and its default is the program's.
#[test]
fn a_new_shop_is_the_default_one_and_names_every_key() {
    let text = shop_toml(Unit::Inch);
    assert_eq!(read(&text), Shop::default());
    let all: String =
        text.lines().map(|line| format!("{}\n", line.strip_prefix("# ").unwrap_or(line))).collect();
    let all = all.replace("The settings of your shop.", "# The settings of your shop.");
    let shop = read(&all);
    // Nothing but what the sections that are off say.
    let like_default = Shop {
        resaw: Shop::default().resaw,
        grades: Shop::default().grades,
        statuses: Shop::default().statuses,
        at_yard: Shop::default().at_yard,
        ..shop.clone()
    };
    assert_eq!(like_default, Shop::default());
    assert!(shop.resaw.blanks == 2 && shop.grades.len() == 2 && shop.statuses.len() == 2);
    let metric = read(&shop_toml(Unit::Millimetre));
    assert_eq!(metric.saw.standoff_block, crate::measure::Length::millimetres(25));
    assert!(metric.labels.fits());
}

#[test]
fn every_column_of_a_reader_has_its_meaning() {
    let readers: [&Columns; 10] = [
        &super::super::orders::ORDERS,
        &super::super::parts::PARTS,
        &super::super::prices::PRICES,
        &super::super::prices::SUPPLIERS,
        &super::super::prices::BREAKS,
        &super::super::rack::RACK,
        &super::super::work::HOLES,
        &super::super::work::FINISHES,
        &super::super::rolls::ROLLS,
        &super::super::scenarios::SCENARIOS,
    ];
    for (file, columns) in FILES.iter().zip(readers) {
        let told: BTreeSet<&str> = file.columns().map(|(name, ..)| name).collect();
        let read: BTreeSet<&str> = columns.required.iter().chain(columns.optional).copied().collect();
        assert_eq!(told, read, "{}", file.name);
    }
}
