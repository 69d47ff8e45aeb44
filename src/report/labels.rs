//! Labels of parts, each with its text as a QR code (ISO/IEC 18004).

use qrcode::render::svg;
use qrcode::{EcLevel, QrCode};

use crate::job::Part;
use crate::measure::Unit;

/// What a label's code says: product, part, pieces, finished size and species.
pub fn label_text(part: &Part, unit: Unit) -> String {
    let (count, width, thickness) = part.finished();
    let size = [part.length, width, thickness].map(|length| length.display(unit).to_string());
    format!(
        "{}; {}; {} pieces; {} {}; {}",
        part.product,
        part.part,
        count,
        size.join(" x "),
        unit.name(),
        part.species
    )
}

/// The code of a text as a drawing; `None` if the text is longer than a code can hold.
pub fn code(text: &str) -> Option<String> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M).ok()?;
    let drawing = code.render::<svg::Color<'_>>().quiet_zone(true).min_dimensions(120, 120).build();
    // Inside a page a drawing needs no prologue of its own.
    drawing.find("<svg").map(|start| drawing[start..].to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use qrcode::Color;

    /// Read back by another library.
    #[test]
    fn a_label_s_code_says_what_the_label_says() {
        let text = "hall bench; leg; 16 pieces; 16 3/4 x 2 1/4 x 1 1/2 in; red oak <&\"' ä";
        assert!(code(text).unwrap().starts_with("<svg"));
        let code = QrCode::with_error_correction_level(text, EcLevel::M).unwrap();
        let (width, colors) = (code.width(), code.to_colors());
        let (scale, quiet) = (4, 4);
        let side = (width + 2 * quiet) * scale;
        let mut image = rqrr::PreparedImage::prepare_from_greyscale(side, side, |x, y| {
            let (column, row) = ((x / scale).wrapping_sub(quiet), (y / scale).wrapping_sub(quiet));
            let inside = column < width && row < width;
            if inside && colors[row * width + column] == Color::Dark { 0 } else { 255 }
        });
        let grids = image.detect_grids();
        assert_eq!(grids.len(), 1);
        assert_eq!(grids[0].decode().unwrap().1, text);
    }
}
