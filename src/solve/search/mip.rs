//! Small integer programs over columns already found, behind one function for every back end.
//!
//! The model is written once with good_lp. The microlp back end is reached through good_lp's model so
//! that a node limit, which does not depend on the clock, can bound its search.

use crate::solve::stop::Stop;
use good_lp::{Expression, ProblemVariables, SolverModel, Variable, variable};

/// A covering program: least cost, `sum of entries >= right-hand side`, columns whole numbers.
#[derive(Debug, Clone, Default)]
pub struct Covering {
    /// Cost and non-zero coefficients of each column.
    pub columns: Vec<(f64, Vec<(u32, f64)>)>,
    /// Largest number of each column that can matter.
    pub most: Vec<u32>,
    /// Right-hand side of each row.
    pub rhs: Vec<f64>,
    /// Solutions that cost more are of no use.
    pub cutoff: f64,
}

impl Covering {
    /// Cost of a solution.
    pub fn cost(&self, values: &[u32]) -> f64 {
        self.columns.iter().zip(values).map(|((cost, _), count)| cost * f64::from(*count)).sum()
    }
}

/// How long to search.
#[derive(Debug, Clone)]
pub struct Effort {
    /// Branch-and-bound nodes.
    pub nodes: u64,
    /// Whichever comes first.
    pub stop: Stop,
}

/// What the search found.
#[derive(Debug, Clone, PartialEq)]
pub enum MipOutcome {
    /// The best solution, proven.
    Optimal(Vec<u32>),
    /// A solution below the cutoff, and a lower bound.
    Feasible(Vec<u32>, f64),
    /// No solution below the cutoff exists.
    Nothing,
    /// Stopped without a solution; the lower bound, if there is one.
    Stopped(Option<f64>),
}

/// Which program searches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Backend {
    /// Pure Rust, always there.
    #[default]
    Microlp,
    /// HiGHS, where it was built.
    #[cfg(feature = "highs")]
    Highs,
}

impl Backend {
    /// All that were built.
    pub const ALL: &[Backend] = &[
        Backend::Microlp,
        #[cfg(feature = "highs")]
        Backend::Highs,
    ];
}

struct Model {
    problem: ProblemVariables,
    /// Read back by back ends that do not list their values in order.
    #[cfg_attr(not(feature = "highs"), expect(dead_code, reason = "only HiGHS reads values by variable"))]
    columns: Vec<Variable>,
    objective: Expression,
    rows: Vec<(Expression, f64)>,
}

fn model(covering: &Covering) -> Model {
    let mut problem = ProblemVariables::new();
    let most = covering.most.iter().map(|most| f64::from(*most));
    let columns: Vec<Variable> =
        most.map(|most| problem.add(variable().integer().min(0.0).max(most))).collect();
    let mut objective = Expression::from(0.0);
    let mut rows: Vec<Expression> = vec![Expression::from(0.0); covering.rhs.len()];
    for (variable, (cost, entries)) in columns.iter().zip(&covering.columns) {
        objective.add_mul(*cost, *variable);
        for (row, value) in entries {
            rows[*row as usize].add_mul(*value, *variable);
        }
    }
    let rows = rows.into_iter().zip(covering.rhs.iter().copied()).collect();
    Model { problem, columns, objective, rows }
}

/// Searches for the cheapest solution not above the cutoff.
pub fn solve(covering: &Covering, backend: Backend, effort: &Effort) -> MipOutcome {
    if covering.columns.is_empty() {
        let met = covering.rhs.iter().all(|value| *value <= 0.0);
        return if met { MipOutcome::Optimal(Vec::new()) } else { MipOutcome::Nothing };
    }
    match backend {
        Backend::Microlp => with_microlp(covering, effort),
        #[cfg(feature = "highs")]
        Backend::Highs => with_highs(covering, effort),
    }
}

fn with_microlp(covering: &Covering, effort: &Effort) -> MipOutcome {
    let Model { problem, objective, rows, .. } = model(covering);
    let mut solver = problem.minimise(objective.clone()).using(good_lp::microlp);
    for (row, least) in rows {
        solver.add_constraint(row.geq(least));
    }
    solver.add_constraint(objective.leq(covering.cutoff));
    let mut options = microlp::SolveOptions::default();
    options.node_limit = Some(effort.nodes);
    options.time_limit = effort.stop.remaining();
    match solver.as_inner().solve_with(options) {
        Err(microlp::Error::Infeasible) => MipOutcome::Nothing,
        Err(_) => MipOutcome::Stopped(None),
        Ok(outcome) => {
            let proven = outcome.is_optimal();
            let bound = outcome.stats().best_bound;
            match outcome.into_solution() {
                Err(_) => MipOutcome::Stopped(bound),
                Ok(solution) => {
                    let values = solution.iter().map(|(_, value)| value.round().max(0.0) as u32).collect();
                    checked(covering, values, proven, bound)
                }
            }
        }
    }
}

#[cfg(feature = "highs")]
fn with_highs(covering: &Covering, effort: &Effort) -> MipOutcome {
    use good_lp::solvers::{SolutionStatus, WithTimeLimit};
    use good_lp::{ResolutionError, Solution};
    let Model { problem, columns, objective, rows } = model(covering);
    let mut solver = problem.minimise(objective.clone()).using(good_lp::highs);
    for (row, least) in rows {
        solver.add_constraint(row.geq(least));
    }
    solver.add_constraint(objective.leq(covering.cutoff));
    solver.set_verbose(false);
    solver = solver.set_threads(1);
    // HiGHS has no node limit through good_lp; the iteration-free stop is its gap of zero.
    if let Some(left) = effort.stop.remaining() {
        solver = solver.with_time_limit(left.as_secs_f64().max(0.01));
    }
    match solver.solve() {
        Err(ResolutionError::Infeasible) => MipOutcome::Nothing,
        Err(_) => MipOutcome::Stopped(None),
        Ok(solution) => {
            let proven = matches!(solution.status(), SolutionStatus::Optimal);
            let values = columns.iter().map(|column| solution.value(*column).round().max(0.0) as u32);
            checked(covering, values.collect(), proven, None)
        }
    }
}

/// Rounded values are checked against every row before anyone believes them.
fn checked(covering: &Covering, values: Vec<u32>, proven: bool, bound: Option<f64>) -> MipOutcome {
    let mut sums = vec![0.0; covering.rhs.len()];
    for ((_, entries), count) in covering.columns.iter().zip(&values) {
        for (row, value) in entries {
            sums[*row as usize] += value * f64::from(*count);
        }
    }
    let met = sums.iter().zip(&covering.rhs).all(|(sum, least)| *sum >= least - 1e-6 * least.abs().max(1.0));
    match (met, proven) {
        (false, _) => MipOutcome::Stopped(bound),
        (true, true) => MipOutcome::Optimal(values),
        (true, false) => MipOutcome::Feasible(values, bound.unwrap_or(0.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn covering(cutoff: f64) -> Covering {
        Covering {
            columns: vec![(2.0, vec![(0, 1.0)]), (3.0, vec![(0, 1.0), (1, 1.0)]), (2.0, vec![(1, 1.0)])],
            most: vec![5, 5, 5],
            rhs: vec![1.0, 1.0],
            cutoff,
        }
    }

    #[test]
    fn the_cheapest_cover_is_found_and_the_cutoff_is_kept() {
        let effort = Effort { nodes: 100, stop: Stop::never() };
        for backend in Backend::ALL {
            let best = solve(&covering(10.0), *backend, &effort);
            assert_eq!(best, MipOutcome::Optimal(vec![0, 1, 0]));
            assert_eq!(solve(&covering(2.5), *backend, &effort), MipOutcome::Nothing);
            assert_eq!(solve(&Covering::default(), *backend, &effort), MipOutcome::Optimal(vec![]));
        }
    }
}
