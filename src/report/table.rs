//! Plain text in aligned columns.

/// How a column is aligned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    Left,
    Right,
}

/// Rows under a header; numbers and what stands for one are aligned to the right.
pub fn aligned_text(columns: &[&str], rows: &[Vec<String>]) -> String {
    let right = |place: usize| {
        let number = |cell: &str| cell == "-" || cell.starts_with(|first: char| first.is_ascii_digit());
        !rows.is_empty() && rows.iter().all(|row| number(&row[place]))
    };
    let columns: Vec<(&str, Align)> = columns
        .iter()
        .enumerate()
        .map(|(place, name)| (*name, if right(place) { Align::Right } else { Align::Left }))
        .collect();
    aligned(&columns, rows, "  ")
}

/// Rows under a header, each column as wide as its widest cell, two spaces apart.
pub fn aligned(columns: &[(&str, Align)], rows: &[Vec<String>], indent: &str) -> String {
    let mut widths: Vec<usize> = columns.iter().map(|(name, _)| name.chars().count()).collect();
    for row in rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    let header: Vec<String> = columns.iter().map(|(name, _)| (*name).to_string()).collect();
    let mut text = String::new();
    for row in std::iter::once(&header).chain(rows) {
        let mut line = indent.to_string();
        for ((cell, width), (_, align)) in row.iter().zip(&widths).zip(columns) {
            let pad = " ".repeat(width - cell.chars().count());
            match align {
                Align::Left => line.push_str(&format!("{cell}{pad}  ")),
                Align::Right => line.push_str(&format!("{pad}{cell}  ")),
            }
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}
