//! The simplex against microlp, and from the basis of a program that was solved before.

use proptest::prelude::*;

use super::*;

/// A covering program: right-hand sides, and columns of a cost with an entry for each row.
#[derive(Debug, Clone)]
struct Program {
    rhs: Vec<f64>,
    columns: Vec<(f64, Vec<f64>)>,
}

/// Far above any column; the perturbation of a row that lacks something counts as often.
const PENALTY: f64 = 1e3;

fn of(program: &Program) -> ColumnSimplex {
    let mut master = ColumnSimplex::new(&program.rhs, &vec![PENALTY; program.rhs.len()]);
    for (cost, entries) in &program.columns {
        let entries = entries.iter().enumerate().filter(|(_, value)| **value != 0.0);
        let entries: Vec<(u32, f64)> = entries.map(|(row, value)| (row as u32, *value)).collect();
        master.add_column(*cost, &entries);
    }
    master
}

fn solved(program: &Program) -> MasterSolution {
    of(program).solve()
}

/// The same by microlp: its value, and what rows of wanted pieces lack. A row that limits something lacks
/// nothing.
fn reference(program: &Program) -> (f64, f64) {
    use microlp::{ComparisonOp, OptimizationDirection, Problem};
    let mut problem = Problem::new(OptimizationDirection::Minimize);
    let columns: Vec<_> =
        program.columns.iter().map(|(cost, _)| problem.add_var(*cost, (0.0, f64::INFINITY))).collect();
    let mut lacks = Vec::new();
    for (row, least) in program.rhs.iter().enumerate() {
        let entries = columns.iter().zip(&program.columns);
        let mut sum: Vec<_> = entries.map(|(column, (_, entries))| (*column, entries[row])).collect();
        if *least > 0.0 {
            lacks.push(problem.add_var(PENALTY, (0.0, f64::INFINITY)));
            sum.extend(lacks.last().map(|lack| (*lack, 1.0)));
        }
        problem.add_constraint(&sum[..], ComparisonOp::Ge, *least);
    }
    let solution = problem.solve().unwrap().into_solution().unwrap();
    (solution.objective(), lacks.iter().map(|lack| solution[*lack]).sum())
}

/// Rows of wanted pieces, and rows that limit how often columns are used.
fn program(entry: std::ops::Range<i32>, cost: std::ops::Range<i32>) -> impl Strategy<Value = Program> {
    (2usize..7, 0usize..3, 1usize..12).prop_flat_map(move |(wanted, limits, columns)| {
        let entries = (prop::collection::vec(entry.clone(), wanted), prop::collection::vec(-1i32..1, limits));
        let column = (cost.clone(), entries.prop_map(|(gives, takes)| [gives, takes].concat()));
        let rhs = (prop::collection::vec(1i32..12, wanted), prop::collection::vec(-9i32..0, limits));
        (rhs, prop::collection::vec(column, columns)).prop_map(|((wanted, limits), columns)| Program {
            rhs: [wanted, limits].concat().into_iter().map(f64::from).collect(),
            columns: columns
                .into_iter()
                .map(|(cost, entries)| (f64::from(cost), entries.into_iter().map(f64::from).collect()))
                .collect(),
        })
    })
}

/// The value, and that the duals prove it. Where rows must lack something the values may differ, since
/// what a row lacks never comes back into the basis; that they lack it is then all that is asked.
fn agrees(program: &Program) -> Result<(), TestCaseError> {
    let solution = solved(program);
    let (truth, lacking) = reference(program);
    prop_assert_eq!(solution.missing.is_empty(), lacking < 1e-6);
    if !solution.missing.is_empty() {
        return Ok(());
    }
    let close = |value: f64| (value - truth).abs() <= 1e-4 + truth.abs() * 1e-5;
    prop_assert!(close(solution.value), "{} {truth}", solution.value);
    // Duals that price no column below zero prove the value (weak duality).
    for (cost, entries) in &program.columns {
        let worth: f64 = entries.iter().zip(&solution.duals).map(|(value, dual)| value * dual).sum();
        prop_assert!(worth <= cost + 1e-5, "a column of {cost} is worth {worth}");
    }
    let proven: f64 = program.rhs.iter().zip(&solution.duals).map(|(rhs, dual)| rhs * dual).sum();
    prop_assert!(close(proven), "{proven} {truth}");
    Ok(())
}

proptest! {
    #[test]
    fn random_programs_have_microlp_s_value(program in program(0..6, 1..40)) {
        agrees(&program)?;
    }

    /// Few different numbers: many ties between ratios, and bases that differ in nothing but their rows.
    #[test]
    fn degenerate_programs_come_to_an_end(program in program(0..2, 1..3)) {
        agrees(&program)?;
    }

    /// Columns may come one by one: the basis before is gone on from.
    #[test]
    fn columns_that_come_later_are_taken_in(program in program(0..5, 1..40)) {
        let mut master = ColumnSimplex::new(&program.rhs, &vec![PENALTY; program.rhs.len()]);
        let mut value = f64::INFINITY;
        for (cost, entries) in &program.columns {
            let entries = entries.iter().enumerate().map(|(row, value)| (row as u32, *value));
            master.add_column(*cost, &entries.collect::<Vec<_>>());
            let now = master.solve().value;
            prop_assert!(now <= value + 1e-6 + value.abs() * 1e-9);
            value = now;
        }
        let (truth, lacking) = reference(&program);
        prop_assert!(lacking > 1e-6 || (value - truth).abs() <= 1e-4 + value.abs() * 1e-5);
    }
}

#[test]
fn a_row_that_no_column_fills_is_named() {
    let program = Program { rhs: vec![2.0, 3.0], columns: vec![(5.0, vec![1.0, 0.0])] };
    let solution = solved(&program);
    assert_eq!(solution.missing, [1]);
    assert!((solution.value - (10.0 + 3.0 * PENALTY)).abs() < 1.0);
}

/// The program without some rows and columns.
fn part_of(program: &Program, rows: &[bool], columns: &[bool]) -> Program {
    fn keep<T: Clone>(list: &[T], keeps: &[bool]) -> Vec<T> {
        list.iter().zip(keeps).filter(|(_, keeps)| **keeps).map(|(item, _)| item.clone()).collect()
    }
    let columns = keep(&program.columns, columns);
    let columns = columns.into_iter().map(|(cost, entries)| (cost, keep(&entries, rows))).collect();
    Program { rhs: keep(&program.rhs, rows), columns }
}

/// The new number of each that is kept.
fn numbers(keeps: &[bool]) -> Vec<Option<usize>> {
    let kept = |place: usize| keeps[..place].iter().filter(|keeps| **keeps).count();
    (0..keeps.len()).map(|place| keeps[place].then(|| kept(place))).collect()
}

fn same(one: &MasterSolution, other: &MasterSolution) -> Result<(), TestCaseError> {
    prop_assert_eq!(one.missing.is_empty(), other.missing.is_empty());
    // Where rows must lack something the values may differ, as above.
    let near = (one.value - other.value).abs() <= 1e-4 + other.value.abs() * 1e-5;
    prop_assert!(near || !one.missing.is_empty(), "{} {}", one.value, other.value);
    Ok(())
}

proptest! {
    /// A row more, as a branch or a cut adds it: from the basis before it the same optimum is reached.
    #[test]
    fn a_program_with_rows_more_goes_on_from_the_basis_before(
        program in program(0..5, 1..30),
        first in 1usize..7,
    ) {
        let rows: Vec<bool> = (0..program.rhs.len()).map(|row| row < first).collect();
        let mut before = of(&part_of(&program, &rows, &vec![true; program.columns.len()]));
        before.solve();
        let mut after = of(&program);
        prop_assert!(after.start_from(&before.into_basis()));
        same(&after.solve(), &solved(&program))?;
    }

    /// Rows and columns less, as slack cuts and dear columns are dropped.
    #[test]
    fn a_program_with_rows_and_columns_less_starts_from_what_is_left_of_the_basis(
        program in program(0..5, 1..30),
        drops in prop::collection::vec(0u8..4, 24),
    ) {
        let mut whole = of(&program);
        whole.solve();
        let rows: Vec<bool> = (0..program.rhs.len()).map(|row| drops[row] > 0).collect();
        let columns: Vec<bool> = (0..program.columns.len()).map(|column| drops[12 + column] > 0).collect();
        let part = part_of(&program, &rows, &columns);
        prop_assume!(!part.rhs.is_empty());
        let mut after = of(&part);
        if let Some(basis) = whole.into_basis().renumbered(&numbers(&rows), &numbers(&columns)) {
            after.start_from(&basis);
        }
        same(&after.solve(), &solved(&part))?;
    }
}

#[test]
fn a_basis_of_another_program_is_refused() {
    let larger = Program { rhs: vec![2.0, 3.0], columns: vec![(5.0, vec![1.0, 1.0])] };
    let program = Program { rhs: vec![2.0], columns: vec![(5.0, vec![1.0])] };
    let mut solved = of(&larger);
    solved.solve();
    let mut master = of(&program);
    assert!(!master.start_from(&solved.into_basis()));
    assert!((master.solve().value - 10.0).abs() < 1e-4);
}
