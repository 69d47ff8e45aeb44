//! Random widths and lengths: how many boards of each lot to buy so that they are enough.
//!
//! A price line with a range is a lot of boards not yet seen. Samples of such boards are cut one by one
//! as they come; the buy is the number of boards that was enough in the share of samples asked for,
//! and it is tried again on fresh samples. Boards not yet seen have defects: one box of the mean share
//! of its grade, at a random place (red oak: Wiedenbeck, Gatchell and Walker, Forest Products Journal
//! 45(3), 1995, 45-50).

use fastrand::Rng;
use num_traits::ToPrimitive;

use super::checked::Checked;
use super::error::PlanningError;
use crate::job::{Job, PriceLine};
use crate::measure::{Area, Length, Unit};
use crate::pattern::{Block, Rect};
use crate::plan::{BoardSource, Plan, build_plan};
use crate::solve::{Arrival, Options, side_by_side, solve};
use crate::trade::Grade;

/// What is asked of a buy.
#[derive(Debug, Clone, Copy)]
pub struct Asked {
    /// Percent of fresh samples in which the boards must be enough.
    pub confidence: f64,
    /// Fresh samples; a fifth as many are used to find the buy.
    pub samples: usize,
    /// Do boards have the mean defects of their grade?
    pub defects: bool,
}

/// How many boards of one line to buy.
#[derive(Debug, Clone)]
pub struct LotRow {
    /// Index of the price line.
    pub line: usize,
    /// Boards.
    pub boards: u64,
    /// Mean board feet of so many, by the dealer's tally.
    pub board_feet: f64,
    /// What they cost on the mean, before breaks.
    pub cost: f64,
}

/// A buy of random boards with what is known about it.
#[derive(Debug, Clone)]
pub struct LotBuy {
    /// The job, its lines at their lower ends.
    pub job: Job,
    /// What was asked.
    pub asked: Asked,
    /// Lines to buy.
    pub rows: Vec<LotRow>,
    /// Percent of the fresh samples in which they were enough.
    pub enough: f64,
    /// Its 95 percent confidence interval (Wilson).
    pub interval: (f64, f64),
    /// Fresh samples.
    pub samples: usize,
    /// The plan if every board came at the upper end of its range.
    pub optimistic: Plan,
    /// The plan if every board came at its mean.
    pub mean: Plan,
    /// The plan if every board came at the lower end.
    pub pessimistic: Option<Plan>,
}

/// Finds the buy of a job with random lots, within the options' threads and seed.
///
/// # Errors
/// If boards at the mean of their ranges cannot meet the demand, or a number is too large to be exact.
pub fn buy_lots(
    job: &Job,
    asked: Asked,
    options: &Options,
    done: &(dyn Fn() + Sync),
) -> Result<LotBuy, PlanningError> {
    let brief = Options { time: options.time.map(|time| time / 6), ..options.clone() };
    let plan = |job: &Job| -> Result<Plan, PlanningError> {
        let plan = build_plan(job, &solve(job, &brief, &|_, _| ())?, brief.gap_percent)?;
        Ok(Checked::new(job, job.clone(), plan)?.plan().clone())
    };
    let largest = at(job, 1.0);
    let middle = at(job, 0.5);
    let (optimistic, mean) = (plan(&largest)?, plan(&middle)?);
    // At the lower ends a part may not fit any board.
    let pessimistic = plan(job).ok();
    let arrival = Arrival::new(&largest);
    let mut wanted = vec![0u64; job.lines.len()];
    mean.buy.iter().for_each(|row| wanted[row.line] = row.boards);
    let demand = arrival.demand_beside(&cut_from_rack(job, &mean));
    let sampler = Sampler { job, arrival: &arrival, demand, wanted: &wanted, defects: asked.defects };
    let draw =
        |from: usize, many: usize, most: Option<&[u64]>| -> Result<Vec<Option<Vec<u64>>>, PlanningError> {
            let seeds: Vec<u64> = (from..from + many)
                .map(|number| options.seed.wrapping_mul(1_000_003) + number as u64)
                .collect();
            Ok(side_by_side(options, &seeds, |seed, _| {
                let needed = sampler.needed(*seed, most);
                done();
                needed
            })?)
        };
    let found = draw(0, (asked.samples / 5).max(20), None)?;
    let counts: Vec<Vec<u64>> = found.into_iter().flatten().collect();
    if counts.is_empty() {
        return Err(PlanningError::NotEnough);
    }
    // From the number of boards that was enough in the share asked for, upwards, until fresh samples agree.
    let mut share = asked.confidence / 100.0;
    let mut first = asked.samples;
    loop {
        let boards = enough_for(&counts, share, &wanted);
        let tried = draw(first, asked.samples, Some(&boards))?;
        let met = tried.iter().flatten().count();
        let enough = met as f64 / asked.samples as f64;
        let interval = wilson(met, asked.samples);
        if interval.0 * 100.0 >= asked.confidence || share >= 1.0 {
            let rows = sampler.rows(&boards);
            let interval = (interval.0 * 100.0, interval.1 * 100.0);
            return Ok(LotBuy {
                job: job.clone(),
                asked,
                rows,
                enough: enough * 100.0,
                interval,
                samples: asked.samples,
                optimistic,
                mean,
                pessimistic,
            });
        }
        share = (share + (1.0 - share) * 0.4).min(1.0);
        if share > 0.995 {
            share = 1.0;
        }
        first += asked.samples;
    }
}

/// Pieces of each part that a plan cuts from the rack: its boards are known, whatever the lots bring.
fn cut_from_rack(job: &Job, plan: &Plan) -> Vec<u32> {
    let mut cut = vec![0; job.parts.len()];
    for board in plan.boards.iter().filter(|board| matches!(board.source, BoardSource::Rack(..))) {
        board.pieces.iter().for_each(|piece| cut[piece.part] += board.copies);
    }
    cut
}

/// The job with every range at a share between its ends.
fn at(job: &Job, share: f64) -> Job {
    let mut job = job.clone();
    for line in &mut job.lines {
        if let Some((length, width)) = line.upper {
            line.length = between(line.length, length, share);
            line.width = between(line.width, width, share);
        }
    }
    job
}

fn between(low: Length, high: Length, share: f64) -> Length {
    Length::from_base(low.base() + ((high.base() - low.base()) as f64 * share) as i64)
}

/// Boards of each lot so that in at least `share` of the samples all lots were enough: the same share
/// of every lot's own distribution.
fn enough_for(counts: &[Vec<u64>], share: f64, wanted: &[u64]) -> Vec<u64> {
    let lots = wanted.len();
    let mut sorted: Vec<Vec<u64>> =
        (0..lots).map(|lot| counts.iter().map(|one| one[lot]).collect()).collect();
    sorted.iter_mut().for_each(|lot| lot.sort_unstable());
    let at = |place: usize| -> Vec<u64> { sorted.iter().map(|lot| lot[place]).collect() };
    let meets = |boards: &[u64]| {
        let met = counts.iter().filter(|one| one.iter().zip(boards).all(|(needed, bought)| needed <= bought));
        met.count() as f64 >= share * counts.len() as f64
    };
    let places = 0..counts.len();
    places.map(at).find(|boards| meets(boards)).unwrap_or_else(|| at(counts.len() - 1))
}

/// The score interval of Wilson, Journal of the American Statistical Association 22(158), 1927.
fn wilson(met: usize, of: usize) -> (f64, f64) {
    /// Two-sided 95 percent of the normal distribution.
    const Z: f64 = 1.959_964;
    let (n, p) = (of as f64, met as f64 / of as f64);
    let middle = (p + Z * Z / (2.0 * n)) / (1.0 + Z * Z / n);
    let half = Z / (1.0 + Z * Z / n) * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    ((middle - half).max(0.0), (middle + half).min(1.0))
}

/// Mean share of a board's face that is defects. FAS, SEL, 1C and 2A of red oak from the paper named at
/// the module's head; F1F is taken as SEL and 3A as 2A, for want of a figure.
pub fn defect_share(grade: Grade) -> f64 {
    match grade {
        Grade::Fas => 0.012,
        Grade::F1f | Grade::Sel => 0.023,
        Grade::C1 => 0.068,
        Grade::C2a | Grade::C3a => 0.098,
    }
}

struct Sampler<'a> {
    job: &'a Job,
    arrival: &'a Arrival<'a>,
    /// Pieces wanted, by size, beside what the rack gives.
    demand: Vec<u32>,
    /// Boards of each line in the plan at the means: the proportion in which lots are opened.
    wanted: &'a [u64],
    defects: bool,
}

impl Sampler<'_> {
    /// Boards of each line that one sample needed; `None` if `most` (or six times the plan at the means)
    /// was not enough.
    fn needed(&self, seed: u64, most: Option<&[u64]>) -> Option<Vec<u64>> {
        const FAR_TOO_MANY: u64 = 6;
        let mut random = Rng::with_seed(seed);
        let mut left = self.demand.clone();
        let mut taken = vec![0u64; self.wanted.len()];
        while left.iter().any(|pieces| *pieces > 0) {
            // No more than the dealer has.
            let to_be_had = |line: usize| self.job.lines[line].available.unwrap_or(u64::MAX);
            let far_too_many = |line: usize| (self.wanted[line] * FAR_TOO_MANY).min(to_be_had(line));
            let limit = |line: usize| most.map_or_else(|| far_too_many(line), |most| most[line]);
            let open = (0..self.wanted.len()).filter(|line| {
                self.wanted[*line] > 0 && taken[*line] < limit(*line) && self.arrival.wants(*line, &left)
            });
            // The lot that lags most behind its proportion.
            let lag = |line: usize| (taken[line] as f64 + 0.5) / self.wanted[line] as f64;
            let line = open.min_by(|one, other| lag(*one).total_cmp(&lag(*other)))?;
            taken[line] += 1;
            let (length, width) = self.board(&self.job.lines[line], &mut random);
            let blocks = self.blocks(&self.job.lines[line], length, width, &mut random);
            if let Some((length, width)) = self.job.shop.usable(length, width) {
                self.arrival.cut(line, Rect { length, width }, &blocks, &mut left);
            }
        }
        Some(taken)
    }

    /// A board of a lot: uniform between the ends, or by the weights of `mix`, measured as at a yard.
    fn board(&self, line: &PriceLine, random: &mut Rng) -> (Length, Length) {
        let Some((length, width)) = line.upper else { return (line.length, line.width) };
        let (eighth, inch) = match self.job.shop.unit {
            Unit::Inch => (Length::inch_128ths(16), Length::inches(1)),
            Unit::Millimetre => (Length::micrometres(1_000), Length::micrometres(10_000)),
        };
        let down = |size: Length, step: Length, low: Length| {
            Length::from_base(size.base() / step.base() * step.base()).max(low)
        };
        let share = weighted(&line.mix, random);
        (
            down(between(line.length, length, random.f64()), inch, line.length),
            down(between(line.width, width, share), eighth, line.width),
        )
    }

    /// One box of up to twice the grade's mean share of defects, half as long as it would be square.
    fn blocks(&self, line: &PriceLine, length: Length, width: Length, random: &mut Rng) -> Vec<Block> {
        let place = random.f64();
        let (size, across) = (random.f64(), random.f64());
        let Some((usable_length, usable_width)) = self.job.shop.usable(length, width) else {
            return Vec::new();
        };
        if !self.defects || line.upper.is_none() {
            return Vec::new();
        }
        let area = Area::of(length, width).base() as f64 * defect_share(line.grade) * 2.0 * size;
        let side = area.sqrt();
        let wide = (side / std::f64::consts::SQRT_2).min(usable_width.base() as f64);
        let long = (area / wide.max(1.0)).min(usable_length.base() as f64);
        let at = |room: Length, size: f64, share: f64| ((room.base() as f64 - size).max(0.0) * share) as i64;
        let (x, y) = (at(usable_length, long, place), at(usable_width, wide, across));
        if wide < 1.0 || long < 1.0 {
            return Vec::new();
        }
        vec![Block {
            x0: Length::from_base(x),
            x1: Length::from_base(x + long as i64),
            y0: Length::from_base(y),
            y1: Length::from_base(y + wide as i64),
        }]
    }

    /// The lines bought, with means over many sampled boards.
    fn rows(&self, boards: &[u64]) -> Vec<LotRow> {
        const MEAN_OF: u32 = 2000;
        let mut rows = Vec::new();
        for (line, count) in boards.iter().enumerate().filter(|(_, count)| **count > 0) {
            let mut random = Rng::with_seed(line as u64);
            let price_line = &self.job.lines[line];
            let supplier = &self.job.suppliers[price_line.supplier];
            let (mut feet, mut cost) = (0.0, 0.0);
            for _ in 0..MEAN_OF {
                let (length, width) = self.board(price_line, &mut random);
                let one = PriceLine { length, width, upper: None, ..price_line.clone() };
                feet += one.tally(supplier).map_or(0.0, |tally| tally.board_feet_f64());
                cost += one.price_of_board(supplier).map_or(0.0, |price| price.to_f64().unwrap_or(0.0));
            }
            let many = *count as f64 / f64::from(MEAN_OF);
            rows.push(LotRow { line, boards: *count, board_feet: feet * many, cost: cost * many });
        }
        rows
    }
}

/// A share between 0 and 1, by the weights of equal parts of it.
fn weighted(weights: &[u32], random: &mut Rng) -> f64 {
    let total: u32 = weights.iter().sum();
    if total == 0 {
        return random.f64();
    }
    let mut at = random.u32(..total);
    for (part, weight) in weights.iter().enumerate() {
        if at < *weight {
            return (part as f64 + random.f64()) / weights.len() as f64;
        }
        at -= weight;
    }
    random.f64()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wilson_s_interval_is_that_of_a_worked_example() {
        // 8 of 10 at 95 percent: 0.490 to 0.943 (common worked example of the score interval).
        let (low, high) = wilson(8, 10);
        assert!((low - 0.4902).abs() < 5e-4 && (high - 0.9433).abs() < 5e-4, "{low} {high}");
    }

    #[test]
    fn a_mix_of_one_part_keeps_to_its_part() {
        let mut random = Rng::with_seed(3);
        for _ in 0..500 {
            let share = weighted(&[0, 1, 0, 0], &mut random);
            assert!((0.25..0.5).contains(&share), "{share}");
        }
    }
}
