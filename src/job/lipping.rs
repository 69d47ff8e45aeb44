//! Edges of solid wood: strips of lumber that are parts of their own, cut with all the others.

use super::shop::Shop;
use super::wanted::ProductPart;
use crate::measure::Length;
use crate::trade::usual_thickness;

/// The strips that cover the edges of a part of a sheet, where these are of solid wood. A strip is as wide on the board as
/// the edge is thick, and stands over the sheet's faces and ends by what is then planed flush.
pub fn lippings(part: &ProductPart, shop: &Shop) -> Vec<ProductPart> {
    let Some(sheet) = part.sheet.as_ref().filter(|sheet| !sheet.lipping.is_empty()) else {
        return Vec::new();
    };
    let [front, back, left, right] = sheet.edges.0;
    let pairs = [
        ((front, back), part.length, ["front", "back", "long edges"]),
        ((left, right), part.width, ["left end", "right end", "ends"]),
    ];
    let mut strips = Vec::new();
    for ((one, other), edge, names) in pairs {
        let sides = match one == other {
            true => vec![(names[2], one, 2)],
            false => vec![(names[0], one, 1), (names[1], other, 1)],
        };
        for (name, thickness, edges) in
            sides.into_iter().filter(|(_, thickness, _)| *thickness > Length::ZERO)
        {
            let sizes = [
                edge + shop.edging.lipping_longer,
                thickness,
                usual_thickness(part.thickness) + shop.edging.lipping_over,
            ];
            let name = format!("{}, lipping of {name}", part.part);
            let mut strip = ProductPart::new(
                &part.product,
                &name,
                part.pieces.saturating_mul(edges),
                sizes,
                &sheet.lipping,
            );
            strip.row = part.row;
            strips.push(strip);
        }
    }
    strips
}
