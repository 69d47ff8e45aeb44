//! The integer program that the exact end of a job comes to, for other solvers to be timed on.

use super::problem::{Instance, Market, Task, Terms, money_ticks};
use super::relax::{Pool, generate, generate_proper};
use super::search::{Reach, gap_below, list};
use super::stop::Stop;
use super::tolerances as tol;
use crate::index::{SizeIndex, ti_vec};
use crate::job::Job;
use crate::measure::{Money, Overflow};

/// All columns that a plan of some cost or less can need: a plan has at least `pieces` of each size, at the least sum of
/// prices.
#[derive(Debug, Clone)]
pub struct ListedProgram {
    /// What is wanted of each size.
    pub pieces: Vec<u32>,
    /// Price of one board, and what it gives by place of the size.
    pub columns: Vec<(f64, Vec<(usize, u32)>)>,
}

/// The program of a job of clear boards in any number, whose dealers ask for nothing; none where its columns are too many.
///
/// # Errors
/// If a price is too large to be held exactly.
pub fn listed_program(job: Job, cost: Money) -> Result<Option<ListedProgram>, Overflow> {
    let instance = Instance::new(job);
    let market = Market::new(&instance, &ti_vec![Terms::Open(0); instance.job.suppliers.len()])?;
    let sizes: Vec<SizeIndex> = instance.sizes.keys().collect();
    let task = Task::whole(&instance, &market, &sizes);
    let stop = Stop::new(None, None, std::sync::Arc::default());
    let mut pool = Pool::new(&instance);
    let relaxed = generate(&task, &mut pool, &stop);
    let generated = generate_proper(&task, &mut pool, &relaxed, &stop).unwrap_or(relaxed);
    let offers = task.offers();
    let gap = gap_below(&task, &offers, &generated, money_ticks(cost) + tol::CENT);
    let reach = Reach { steps: usize::MAX, columns: tol::MIP_COLUMNS_MOST };
    let mut local = pool.emptied();
    let listed = list(&task, &offers, &generated, (&pool, &mut local), Some(gap), reach, &stop);
    let program = listed.map(|listed| ListedProgram {
        pieces: task.demand.to_vec().into(),
        columns: listed
            .into_iter()
            .map(|column| {
                let gives = column.counts.into_iter().map(|(size, n)| (usize::from(size), n));
                (column.cost as f64 / tol::TICKS_PER_UNIT as f64, gives.collect())
            })
            .collect(),
    });
    Ok(program)
}
