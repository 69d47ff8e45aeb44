//! Plain text in aligned columns.

/// How a column is aligned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    Left,
    Right,
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
