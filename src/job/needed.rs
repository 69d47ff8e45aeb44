//! What a plan leaves open where the boards on hand are not enough, and the least board that would give it.

use super::fault::Shortfall;
use super::model::Job;
use super::shop::Shop;
use super::wanted::Part;
use super::yieldable::shortfalls_by_part;
use crate::index::PartIndex;
use crate::measure::{Area, Length, Volume};
use crate::trade::{Quarter, trade_classes};

/// Parts that a plan leaves open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StillNeeded {
    /// Index into the job's parts.
    pub part: PartIndex,
    /// Finished parts.
    pub parts: u64,
    /// Why no board gives them, and what would help; none where there are too few boards.
    pub reason: Option<String>,
}

impl StillNeeded {
    /// What is sawn for them: strips or layers where the part is glued, else the parts.
    pub fn blanks(&self, job: &Job) -> u64 {
        self.parts * u64::from(job.parts[self.part].blank.make.pieces())
    }

    /// Square feet of as many of the least sheets; none where the part is of lumber.
    pub fn square_feet(&self, job: &Job) -> Option<f64> {
        let part = &job.parts[self.part];
        part.sheet.as_ref()?;
        let least = LeastBoard::of(&job.shop, part);
        Some(Area::of(least.length, least.width).square_feet_f64() * self.blanks(job) as f64)
    }

    /// Board feet of as many of the least boards; sheets are not counted in them.
    pub fn board_feet(&self, job: &Job) -> f64 {
        let part = &job.parts[self.part];
        if part.sheet.is_some() {
            return 0.0;
        }
        LeastBoard::of(&job.shop, part).volume(part).board_feet_f64() * self.blanks(job) as f64
    }
}

impl Job {
    /// The parts that nothing on offer gives, all of them open.
    pub fn unobtainable(&self) -> Vec<StillNeeded> {
        let open = |(part, shortfall): (PartIndex, Shortfall)| {
            let (parts, reason) = (self.parts[part].required, Some(shortfall.reason));
            StillNeeded { part, parts, reason }
        };
        shortfalls_by_part(self, &[]).into_iter().map(open).collect()
    }

    /// The job without parts that are left open.
    pub fn leaving(&self, still_needed: &[StillNeeded]) -> Job {
        let mut job = self.clone();
        for StillNeeded { part, parts, .. } in still_needed {
            let required = &mut job.parts[*part].required;
            *required = required.saturating_sub(*parts);
        }
        job
    }
}

/// The least board that gives a blank.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LeastBoard {
    /// The thinnest class that is thick enough; none where no class of the trade is.
    pub quarter: Option<Quarter>,
    /// Rough length.
    pub length: Length,
    /// Rough width.
    pub width: Length,
}

impl LeastBoard {
    /// The board that one blank of a part just fills.
    pub fn of(shop: &Shop, part: &Part) -> LeastBoard {
        let blank = &part.blank;
        let thick_enough = |class: &Quarter| shop.dressed(*class, blank.cut_length) >= blank.thickness;
        let quarter = match part.sheet {
            Some(_) => Quarter::of_sheets(blank.thickness),
            None => trade_classes().find(thick_enough),
        };
        let sawing = shop.sawing(quarter.unwrap_or(Quarter::quarters(4)));
        LeastBoard {
            quarter,
            length: blank.cut_length + sawing.end_trim * 2,
            width: blank.cut_width + sawing.edge_trim * 2,
        }
    }

    /// What a dealer counts for it; of a thickness that no class has, the blank's.
    pub fn volume(&self, part: &Part) -> Volume {
        let thickness = self.quarter.map_or(part.blank.thickness, Quarter::tallied);
        Area::of(self.length, self.width).times(thickness)
    }
}
