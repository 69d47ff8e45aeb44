//! What the defects that a strip meets leave of it.

use crate::pattern::defects::Blocked;
use crate::trade::Clear;

/// Clear spans, in ways, in stretches.
pub type Measured = Vec<Vec<Vec<ClearSpan>>>;

/// A span that is clear enough for a demand.
#[derive(Debug, Clone, Copy)]
pub struct ClearSpan {
    pub from: i64,
    pub to: i64,
    pub demand: usize,
}

/// The stretches of a strip that meets these defects, with the ways to fill each. Under a less strict demand more
/// pieces may be cut, so a way is left out if a stricter one is as long.
pub fn stretches(
    near: &[usize],
    blocks: &[Blocked],
    run_room: i64,
    run_kerf: i64,
    demands: &[Clear],
) -> Measured {
    let spans = |demand: Clear| {
        let spoilt: Vec<usize> =
            near.iter().copied().filter(|place| !demand.bears(blocks[*place].kind)).collect();
        between(&spoilt, blocks, run_room, run_kerf)
    };
    let by_demand: Vec<Vec<(i64, i64)>> = demands.iter().map(|demand| spans(*demand)).collect();
    let Some(loosest) = by_demand.last() else { return Vec::new() };
    // Where all demands see the same there is one way only: the whole strip is one stretch.
    if by_demand[0] == *loosest {
        return vec![vec![
            loosest.iter().map(|(from, to)| ClearSpan { from: *from, to: *to, demand: 0 }).collect(),
        ]];
    }
    let ways = |(low, high): &(i64, i64)| {
        let mut ways: Vec<Vec<ClearSpan>> = Vec::new();
        for (demand, spans) in by_demand.iter().enumerate() {
            let inside = spans.iter().filter(|(from, to)| low <= from && to <= high);
            let way: Vec<ClearSpan> =
                inside.map(|(from, to)| ClearSpan { from: *from, to: *to, demand }).collect();
            let ends = |way: &[ClearSpan]| -> Vec<(i64, i64)> {
                way.iter().map(|span| (span.from, span.to)).collect()
            };
            if !ways.iter().any(|other| ends(other) == ends(&way)) {
                ways.push(way);
            }
        }
        ways
    };
    loosest.iter().map(ways).collect()
}

/// The spans of a strip that these defects leave, far enough apart for a kerf between them.
fn between(near: &[usize], blocks: &[Blocked], run_room: i64, run_kerf: i64) -> Vec<(i64, i64)> {
    let mut dirty: Vec<(i64, i64)> = near.iter().map(|place| blocks[*place].run).collect();
    dirty.sort_unstable();
    let mut clear = Vec::new();
    let mut from = 0;
    for (low, high) in dirty {
        if low > from {
            clear.push((from, low));
        }
        from = from.max(high).max(low + run_kerf);
    }
    if from < run_room {
        clear.push((from, run_room));
    }
    clear
}
