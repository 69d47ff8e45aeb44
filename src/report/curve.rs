//! The curve of confidence against what is bought, as a drawing on a page.

use serde::Serialize;

use super::measured::volume_to_ask_for;
use crate::measure::Unit;
use crate::plan::Confidence;

/// Size of the field that the curve is drawn in, and the margins for its numbers.
const FIELD: (f64, f64) = (360.0, 160.0);
const MARGIN: (f64, f64) = (52.0, 12.0);

/// The curve, in units of its drawing.
#[derive(Debug, Clone, Serialize)]
pub struct Curve {
    /// Corners of the line, for a polyline.
    line: String,
    /// Where its points lie, with board feet and percent.
    points: Vec<Point>,
    /// The share that was asked for, and its height.
    asked: String,
    asked_height: f64,
    field: Field,
}

#[derive(Debug, Clone, Serialize)]
struct Point {
    x: f64,
    y: f64,
    feet: String,
    percent: String,
}

#[derive(Debug, Clone, Serialize)]
struct Field {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

impl Curve {
    /// The curve of a buy; none where it has a single point.
    pub fn of(confidence: &Confidence, unit: Unit) -> Option<Curve> {
        let feet = |place: usize| confidence.curve.get(place).map(|(feet, _)| feet.board_feet_f64());
        let (least, most) = (feet(0)?, feet(confidence.curve.len().checked_sub(1)?)?);
        if most <= least {
            return None;
        }
        let lowest = confidence.curve.iter().map(|(_, percent)| *percent).fold(confidence.asked, f64::min);
        // From the ten below the lowest share.
        let from = ((lowest / 10.0).floor() * 10.0).min(90.0);
        let tenths = |number: f64| (number * 10.0).round() / 10.0;
        let across = |feet: f64| tenths(MARGIN.0 + (feet - least) / (most - least) * FIELD.0);
        let down = |percent: f64| tenths(MARGIN.1 + (100.0 - percent) / (100.0 - from) * FIELD.1);
        let points: Vec<Point> = confidence
            .curve
            .iter()
            .map(|(feet, percent)| {
                let feet = feet.board_feet_f64();
                Point {
                    x: across(feet),
                    y: down(*percent),
                    feet: volume_to_ask_for(feet, unit),
                    percent: format!("{percent:.0} %"),
                }
            })
            .collect();
        let line: Vec<String> = points.iter().map(|Point { x, y, .. }| format!("{x},{y}")).collect();
        Some(Curve {
            line: line.join(" "),
            points,
            asked: format!("{} %", confidence.asked),
            asked_height: down(confidence.asked),
            field: Field {
                left: MARGIN.0,
                right: MARGIN.0 + FIELD.0,
                top: MARGIN.1,
                bottom: MARGIN.1 + FIELD.1,
            },
        })
    }
}
