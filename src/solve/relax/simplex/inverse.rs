//! The inverse of a square matrix, by Gauss and Jordan with row pivoting. Matrices are row-major.

use crate::solve::tolerances as tol;

/// The inverse; `None` where the matrix has none.
pub fn inverse_of(mut matrix: Vec<f64>, rows: usize) -> Option<Vec<f64>> {
    let mut inverse = vec![0.0; rows * rows];
    for row in 0..rows {
        inverse[row * rows + row] = 1.0;
    }
    for place in 0..rows {
        let pivot_row = (place..rows)
            .max_by(|one, other| {
                let size = |row: usize| matrix[row * rows + place].abs();
                size(*one).total_cmp(&size(*other))
            })
            .unwrap_or(place);
        if pivot_row != place {
            swap_rows(&mut matrix, rows, pivot_row, place);
            swap_rows(&mut inverse, rows, pivot_row, place);
        }
        let pivot = matrix[place * rows + place];
        if pivot.abs() < tol::PIVOT {
            return None;
        }
        scale_row(&mut matrix, rows, place, 1.0 / pivot);
        scale_row(&mut inverse, rows, place, 1.0 / pivot);
        for row in 0..rows {
            let factor = matrix[row * rows + place];
            if row != place && factor != 0.0 {
                subtract_row(&mut matrix, rows, row, place, factor);
                subtract_row(&mut inverse, rows, row, place, factor);
            }
        }
    }
    Some(inverse)
}

fn swap_rows(matrix: &mut [f64], rows: usize, one: usize, other: usize) {
    for at in 0..rows {
        matrix.swap(one * rows + at, other * rows + at);
    }
}

fn scale_row(matrix: &mut [f64], rows: usize, row: usize, factor: f64) {
    matrix[row * rows..(row + 1) * rows].iter_mut().for_each(|entry| *entry *= factor);
}

fn subtract_row(matrix: &mut [f64], rows: usize, row: usize, pivot_row: usize, factor: f64) {
    let (low, high) = (row.min(pivot_row), row.max(pivot_row));
    let (head, tail) = matrix.split_at_mut(high * rows);
    let (low_row, high_row) = (&mut head[low * rows..(low + 1) * rows], &mut tail[..rows]);
    let (target, source) = if row < pivot_row { (low_row, high_row) } else { (high_row, low_row) };
    target.iter_mut().zip(source.iter()).for_each(|(entry, value)| *entry -= factor * value);
}
