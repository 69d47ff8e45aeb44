//! How long a plan keeps each saw busy: its settings and its cuts, in minutes.
//!
//! What lives here: which saw a cut of a written plan is made at, and what that takes. What never does: the cost, which
//! counts settings alone.

use crate::document::{BoardEntry, CutEntry, Document, MadeEntry, SetupEntry};
use crate::job::{SawHours, Shop};
use crate::measure::Money;

/// A saw that boards wait for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Saws {
    /// Rips, and crosscuts at the fence, with the sled or at a long stop.
    Table,
    /// Crosscuts to its stop, and the ends that are trimmed, where the shop has one.
    Chop,
    /// All cuts of sheets.
    Sheet,
}

impl Saws {
    /// All of them, as they are printed.
    pub const ALL: [Saws; 3] = [Saws::Table, Saws::Chop, Saws::Sheet];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Saws::Table => "table saw",
            Saws::Chop => "chop saw",
            Saws::Sheet => "sheet saw",
        }
    }

    /// Hours a week that it can be worked at, where the shop says so.
    pub fn hours(self, hours: &SawHours) -> Option<f64> {
        let said = match self {
            Saws::Table => hours.table_saw,
            Saws::Chop => hours.chop_saw,
            Saws::Sheet => hours.sheet_saw,
        };
        said.map(Money::to_f64)
    }
}

/// What a plan asks of one saw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SawLoad {
    /// Which.
    pub saw: Saws,
    /// Settings made, where all boards go through together.
    pub settings: u64,
    /// Cuts over all boards.
    pub cuts: u64,
    /// Hours of both.
    pub hours: f64,
}

/// What a written plan asks of each saw that it uses.
pub fn saw_loads(document: &Document, shop: &Shop) -> Vec<SawLoad> {
    let load = |saw: Saws| {
        let made = document.settings_order.iter();
        let made = made.filter(|made| at(&made.kind, station(document, made)) == saw);
        let minutes: Vec<f64> = made.map(|made| minutes_of_setting(&made.kind, shop)).collect();
        let setups = document.setups.iter();
        let setups = setups.filter(|setup| at(&setup.kind, setup.station.as_deref()) == saw);
        let cuts = setups.map(|setup| setup.cuts).sum::<u64>() + unset(document, shop, saw);
        let minutes_of_cuts = cuts as f64 * shop.labour.cut_minutes.to_f64();
        let hours = (minutes.iter().sum::<f64>() + minutes_of_cuts) / 60.0;
        SawLoad { saw, settings: minutes.len() as u64, cuts, hours }
    };
    Saws::ALL.map(load).into_iter().filter(|load| load.settings + load.cuts > 0).collect()
}

/// What holds a stop, if the setting is one.
fn station<'d>(document: &'d Document, made: &MadeEntry) -> Option<&'d str> {
    let same = |setup: &&SetupEntry| setup.kind == made.kind && setup.setting == made.setting;
    document.setups.iter().find(same)?.station.as_deref()
}

fn at(kind: &str, station: Option<&str>) -> Saws {
    match (kind, station) {
        ("sheet", _) => Saws::Sheet,
        ("stop", Some("chop-saw")) => Saws::Chop,
        _ => Saws::Table,
    }
}

fn minutes_of_setting(kind: &str, shop: &Shop) -> f64 {
    let minutes = if kind == "stop" { shop.labour.stop_setup_minutes } else { shop.labour.rip_setup_minutes };
    minutes.to_f64()
}

/// Cuts for which nothing is set: ends and edges that are trimmed, and cuts along a line, which are made at the table
/// saw.
fn unset(document: &Document, shop: &Shop, saw: Saws) -> u64 {
    let across = |cut: &CutEntry| cut.y1 - cut.y0 > cut.x1 - cut.x0;
    let of = |board: &BoardEntry, cut: &CutEntry| match (board.grain.is_some(), across(cut)) {
        (true, _) => Saws::Sheet,
        (false, true) if shop.saw.stations.chop_saw.is_some() => Saws::Chop,
        (false, _) => Saws::Table,
    };
    let (mut trims, mut others) = (0, 0);
    for board in &document.boards {
        for cut in &board.cuts {
            match cut.kind.as_str() {
                "trim" if of(board, cut) == saw => trims += u64::from(board.copies),
                "trim" => {}
                _ => others += u64::from(board.copies),
            }
        }
    }
    let set: u64 = document.setups.iter().map(|setup| setup.cuts).sum();
    trims + if saw == Saws::Table { u64::saturating_sub(others, set) } else { 0 }
}
