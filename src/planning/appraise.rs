//! One board at a time: is it worth what is asked for it?
//!
//! A person who turns a stack over wants a word for each board before the whole stack is measured. A board is worth
//! what its pieces would cost at the price sheets, once the boards already taken give what they can.

use num_rational::BigRational;

use super::error::PlanningError;
use super::stack::beside_a_dealer_of_all;
use crate::index::PartIndex;
use crate::job::{Job, RackBoard};
use crate::measure::Money;
use crate::solve::{Options, Worths};

/// Percent of the asked price within which a board is worth neither more nor less: other boards decide then.
const NEARLY: i64 = 5;

/// What is advised about one board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Advice {
    /// Its pieces would cost more elsewhere.
    Take,
    /// They cost about as much.
    Maybe,
    /// They cost less elsewhere, or nothing that is wanted comes out of it.
    Leave,
}

/// One board, appraised.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Appraised {
    /// The advice.
    pub advice: Advice,
    /// What is asked for it.
    pub asked: Money,
    /// What the same pieces would cost at the price sheets.
    pub worth: Money,
    /// The pieces, as blanks by part (index).
    pub blanks: Vec<(PartIndex, u32)>,
}

/// A job with what its pieces are worth.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Appraiser {
    job: Job,
    worths: Worths,
}

impl Appraiser {
    /// Values the pieces of a job, with the boards of its rack: those already taken stand there.
    ///
    /// # Errors
    /// If a number is too large to be held exactly, or the threads cannot be started.
    pub fn new(job: &Job, options: &Options) -> Result<Appraiser, PlanningError> {
        // What no price sheet has is worth what a dear dealer would ask.
        let beside = beside_a_dealer_of_all(job)?;
        let worths = Worths::of(&beside, options)?;
        Ok(Appraiser { job: job.clone(), worths })
    }

    /// The job, in whose parts' indices boards are appraised.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// Appraises one board, whose value is what is asked for it.
    ///
    /// # Errors
    /// If a number is too large to be held exactly.
    pub fn appraise(&self, board: &RackBoard) -> Result<Appraised, PlanningError> {
        let best = self.worths.best_cut(&self.job, board)?;
        let (asked, worth) = (board.value, best.worth);
        // In percent of each, so that nothing is rounded.
        let times = |sum: Money, percent: i64| sum.to_ratio() * BigRational::from_integer(percent.into());
        let of_worth = times(worth, 100);
        let advice = if best.blanks.is_empty() || of_worth < times(asked, 100 - NEARLY) {
            Advice::Leave
        } else if of_worth < times(asked, 100 + NEARLY) {
            Advice::Maybe
        } else {
            Advice::Take
        };
        Ok(Appraised { advice, asked, worth, blanks: best.blanks })
    }
}
