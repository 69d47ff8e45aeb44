//! Labels of parts, each with its text as a QR code (ISO/IEC 18004).

use std::fmt::Write;

use qrcode::{Color, EcLevel, QrCode};

use crate::job::Part;
use crate::measure::Unit;

/// What a label's code says: product, part, pieces, finished size and species.
pub fn label_text(part: &Part, unit: Unit) -> String {
    let size = [part.length, part.width, part.thickness].map(|length| length.display(unit).to_string());
    format!(
        "{}; {}; {} pieces; {} {}; {}",
        part.product,
        part.part,
        part.required,
        size.join(" x "),
        unit.name(),
        part.species
    )
}

/// Light modules around a code (ISO/IEC 18004).
const QUIET: usize = 4;

/// The code of a text as a drawing; `None` if the text is longer than a code can hold.
pub fn code(text: &str) -> Option<String> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M).ok()?;
    let side = code.width() + 2 * QUIET;
    let mut strokes = String::new();
    for (row, modules) in code.to_colors().chunks(code.width()).enumerate() {
        // One stroke for dark modules side by side: a page has a code for every part.
        let mut column = 0;
        for run in modules.chunk_by(|one, other| one == other) {
            if run[0] == Color::Dark {
                // A text takes whatever is written to it.
                let _ = write!(strokes, "M{} {}.5h{}", column + QUIET, row + QUIET, run.len());
            }
            column += run.len();
        }
    }
    Some(format!("<svg viewBox=\"0 0 {side} {side}\"><path stroke=\"#000\" d=\"{strokes}\"/></svg>"))
}

#[cfg(test)]
mod tests {
    use super::*;
    /// Read back by another library, from the drawing's strokes.
    #[test]
    fn a_label_s_code_says_what_the_label_says() {
        let text = "hall bench; leg; 16 pieces; 16 3/4 x 2 1/4 x 1 1/2 in; red oak <&\"' ä";
        let drawing = code(text).unwrap();
        let side: usize = drawing.split(' ').nth(3).unwrap().parse().unwrap();
        let mut dark = vec![false; side * side];
        let (_, strokes) = drawing.split_once(" d=\"M").unwrap();
        for stroke in strokes.split('"').next().unwrap().split('M') {
            let (column, rest) = stroke.split_once(' ').unwrap();
            let (row, length) = rest.split_once(".5h").unwrap();
            let number = |text: &str| text.parse::<usize>().unwrap();
            let first = number(row) * side + number(column);
            dark[first..first + number(length)].fill(true);
        }
        let scale = 4;
        let mut image = rqrr::PreparedImage::prepare_from_greyscale(side * scale, side * scale, |x, y| {
            if dark[y / scale * side + x / scale] { 0 } else { 255 }
        });
        let grids = image.detect_grids();
        assert_eq!(grids.len(), 1);
        assert_eq!(grids[0].decode().unwrap().1, text);
    }
}
