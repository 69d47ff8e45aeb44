//! How long a plan keeps each saw busy: its settings and its cuts, in minutes.
//!
//! What lives here: which saw a cut of a written plan is made at, and what that takes. What never does: the cost, which
//! counts settings alone.

use super::model::SetupKind;
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
    let mut loads = Saws::ALL.map(|saw| SawLoad { saw, settings: 0, cuts: 0, hours: 0.0 });
    let mut of = |saw: Saws, change: &dyn Fn(&mut SawLoad)| {
        loads.iter_mut().filter(|load| load.saw == saw).for_each(change);
    };
    for made in &document.settings_order {
        let minutes = SetupKind::named(&made.kind).map_or(0.0, |kind| kind.minutes(&shop.labour).to_f64());
        of(at(&made.kind, station(document, made)), &|load| {
            load.settings += 1;
            load.hours += minutes;
        });
    }
    let mut set = 0;
    for setup in &document.setups {
        set += setup.cuts;
        of(at(&setup.kind, setup.station.as_deref()), &|load| load.cuts += setup.cuts);
    }
    let mut others = 0;
    for board in &document.boards {
        for cut in &board.cuts {
            let copies = u64::from(board.copies);
            match cut.kind.as_str() {
                "trim" => of(trimmed_at(board, cut, shop), &|load| load.cuts += copies),
                _ => others += copies,
            }
        }
    }
    // Beside a defect the saw follows a line, for which nothing is set: at the table saw.
    of(Saws::Table, &|load| load.cuts += u64::saturating_sub(others, set));
    for load in &mut loads {
        // What was added up so far are minutes.
        load.hours = (load.hours + load.cuts as f64 * shop.labour.cut_minutes.to_f64()) / 60.0;
    }
    loads.into_iter().filter(|load| load.settings + load.cuts > 0).collect()
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

/// Where an end or an edge is trimmed.
fn trimmed_at(board: &BoardEntry, cut: &CutEntry, shop: &Shop) -> Saws {
    let across = cut.y1 - cut.y0 > cut.x1 - cut.x0;
    match (board.grain.is_some(), across) {
        (true, _) => Saws::Sheet,
        (false, true) if shop.saw.stations.chop_saw.is_some() => Saws::Chop,
        (false, _) => Saws::Table,
    }
}
