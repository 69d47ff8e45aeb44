//! What the defects that a strip meets leave of it, and the positions at which strips can lie.

use std::collections::BTreeSet;

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

/// Cells of the grid of positions above which they are kept as a sorted set.
const MOST_CELLS: i64 = 1 << 20;

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

/// Positions reached from `bases` by sums of sizes (rising) with a kerf after each, from which the least size still
/// fits.
pub fn positions(bases: BTreeSet<i64>, sizes: &[i64], kerf: i64, room: i64) -> Vec<i64> {
    let Some(least) = sizes.first() else { return Vec::new() };
    let last = room - least;
    let bases: BTreeSet<i64> = bases.into_iter().filter(|base| (0..=last).contains(base)).collect();
    let grid = sizes.iter().fold(0, |grid, size| num_integer::gcd(grid, size + kerf));
    let grid = bases.iter().fold(grid, |grid, base| num_integer::gcd(grid, *base)).max(1);
    let cells = last / grid + 1;
    if cells > MOST_CELLS {
        let mut open = bases;
        let mut positions = Vec::new();
        while let Some(position) = open.pop_first() {
            positions.push(position);
            open.extend(sizes.iter().map(|size| position + size + kerf).filter(|next| *next <= last));
        }
        return positions;
    }
    let mut reached = vec![false; cells.max(0) as usize];
    bases.iter().for_each(|base| reached[(base / grid) as usize] = true);
    let mut positions = Vec::new();
    for cell in 0..reached.len() {
        if !reached[cell] {
            continue;
        }
        let position = cell as i64 * grid;
        positions.push(position);
        for size in sizes {
            let next = position + size + kerf;
            if next > last {
                break;
            }
            reached[(next / grid) as usize] = true;
        }
    }
    positions
}
