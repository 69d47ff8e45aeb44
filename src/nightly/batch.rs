//! A batch of a run: the weeks that it is for, and what is remembered of its plan.

use jiff::civil::Date;

use super::leaves::leaves;
use super::stage::Stage;
use super::week::Week;
use crate::document::{BuyEntry, ConfidenceEntry, CostEntry, Document};
use crate::intake::digest;
use crate::job::{RackBoard, Shop};
use crate::measure::Money;
use crate::plan::{SawLoad, saw_loads};

/// A batch with what comes of it.
#[derive(Debug, Clone)]
pub struct Batch {
    /// What it asks for.
    pub week: Week,
    /// What comes of it.
    pub outcome: BatchTried,
    /// Was it planned before, from the same content?
    pub reused: bool,
    /// Are its sheets handed out, so that its plan stays?
    pub released: bool,
    /// Weeks that joined it: what joining saved, and what cutting them early costs.
    pub joined: Vec<WeeksJoined>,
    /// What its plan saves by boards that the weeks before it leave, where it takes any.
    pub saved_by_leftovers: Option<Money>,
}

/// Weeks cut with an earlier one.
#[derive(Debug, Clone)]
pub struct WeeksJoined {
    /// Their Mondays.
    pub weeks: Vec<Option<Date>>,
    /// Money that planning them together saves.
    pub saves: Money,
    /// What the wood cut early costs for that time.
    pub carrying: f64,
}

/// What comes of a batch.
#[derive(Debug, Clone)]
pub enum BatchTried {
    /// A plan; its files are among those that are kept.
    Planned(Box<WeeksPlanned>),
    /// Why there is no plan.
    Unplanned(String),
}

/// What a run remembers of a plan: its files may be large, so they stay on the disk.
#[derive(Debug, Clone)]
pub struct WeeksPlanned {
    /// What it costs and what is proven.
    pub cost: CostEntry,
    /// As the document says it.
    pub status: String,
    /// Turns of its search, where that was cut short and as many give it again.
    pub turns: Option<u64>,
    /// Under which its files are kept.
    pub key: String,
    /// SHA-256 of plan.json.
    pub hash: String,
    /// What one board of each line bought costs.
    pub one_of_each: f64,
    /// What the spare boards cost: weeks that are planned as one need fewer.
    pub spares: f64,
    /// Boards to cut.
    pub boards: u64,
    /// What it asks of each saw.
    pub loads: Vec<SawLoad>,
    /// Names of the boards on hand that it cuts.
    pub takes: Vec<String>,
    /// Its kept offcuts, as many as a later week could count on.
    pub leaves: Vec<RackBoard>,
}

impl WeeksPlanned {
    /// What it costs.
    pub fn total(&self) -> Option<Money> {
        Money::parse_signed(&self.cost.total).ok()
    }
}

impl Batch {
    /// A batch of weeks that are planned by themselves.
    pub fn of(week: &Week, outcome: BatchTried, reused: bool) -> Batch {
        let (joined, saved_by_leftovers) = (Vec::new(), None);
        Batch { week: week.clone(), outcome, reused, released: false, joined, saved_by_leftovers }
    }

    /// Its week as a stage of the run.
    pub fn stage(&self) -> Stage {
        let status = self.planned().map(|planned| planned.status.clone());
        Stage::Week { week: self.week.first.map(|day| day.to_string()), reused: self.reused, status }
    }

    /// The plan, if there is one.
    pub fn planned(&self) -> Option<&WeeksPlanned> {
        match &self.outcome {
            BatchTried::Planned(planned) => Some(planned),
            BatchTried::Unplanned(_) => None,
        }
    }

    /// What its plan asks of each saw.
    pub fn loads(&self) -> &[SawLoad] {
        self.planned().map_or(&[], |planned| &planned.loads)
    }

    /// Its status as a person is told it.
    pub fn state(&self) -> String {
        match (self.planned(), self.released) {
            (None, _) => "no plan".to_string(),
            (Some(planned), true) => format!("{}, released", planned.status),
            (Some(planned), false) => planned.status.clone(),
        }
    }

    /// What its plan costs.
    pub fn total(&self) -> Option<Money> {
        self.planned()?.total()
    }
}

/// What the batch of a run with such a number, from 0, is called.
pub fn batch_name(number: usize) -> String {
    format!("batch-{:02}", number + 1)
}

/// What a run remembers of a plan that is kept, for a job with such a shop and boards on hand.
pub fn remembered(
    document: &Document,
    text: &[u8],
    key: &str,
    shop: &Shop,
    on_hand: &[RackBoard],
) -> WeeksPlanned {
    let price =
        |row: &BuyEntry| Money::parse_signed(&row.cost).map_or(0.0, Money::to_f64) / row.boards.max(1) as f64;
    let spares = |of: &ConfidenceEntry| Money::parse_signed(&of.spare_cost).map_or(0.0, Money::to_f64);
    let hash = digest(text);
    WeeksPlanned {
        cost: document.cost.clone(),
        status: document.status.clone(),
        turns: document.turns.filter(|_| !document.not_repeatable),
        key: key.to_string(),
        one_of_each: document.buy.iter().map(price).sum(),
        spares: document.confidence.as_ref().map_or(0.0, spares),
        boards: document.boards.iter().map(|board| u64::from(board.copies)).sum(),
        loads: saw_loads(document, shop),
        takes: document.takes().map(String::from).collect(),
        leaves: leaves(document, &hash, shop, on_hand),
        hash,
    }
}
