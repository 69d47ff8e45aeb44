//! The best complete plan so far, shared by all threads, with the bound beside it.

use std::collections::BTreeMap;
use std::sync::Mutex;

use super::problem::{
    Counts, Cut, Instance, Purchase, Size, Supply, before_resawing, blanks_in, money_ticks,
};
use super::relax::Pool;
use crate::index::{LineIndex, SizeIndex, StockIndex, TiVec, ti_vec};
use crate::job::share_of;
use crate::measure::{Money, Overflow};
use crate::pattern::Pattern;

/// Boards of one source cut by one pattern.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CutBoards {
    /// Where the boards come from; a group of rack boards names only those used.
    pub source: Supply,
    /// How each is cut. Pieces are sizes of the instance, and none is cut in vain.
    pub pattern: Pattern,
    /// Boards.
    pub copies: u32,
}

/// A complete plan with its real cost.
#[derive(Debug, Clone)]
pub struct Incumbent {
    /// Boards, price lines before the rack.
    pub boards: Vec<CutBoards>,
    /// What is bought.
    pub purchase: Purchase,
    /// Value of the rack boards used up.
    pub rack: Money,
    /// What pieces are worth by the linear program that it was made from, by size, in ticks; none where it was
    /// made otherwise.
    pub values: TiVec<SizeIndex, i64>,
}

impl Incumbent {
    /// Makes a plan of cuts: pieces beyond the demand are dropped, boards that nothing is cut from go
    /// unless a break or a minimum order needs them. `None` if a minimum order is not reached.
    ///
    /// # Errors
    /// If a sum is too large to be held exactly.
    pub fn new(instance: &Instance, cuts: &[Cut], pool: &Pool) -> Result<Option<Incumbent>, Overflow> {
        let (used, idle) = needed_boards(instance, cuts, pool);
        let lean = Incumbent::priced(instance, used.clone())?;
        if idle.is_empty() {
            return Ok(lean);
        }
        let mut all = used;
        all.extend(idle);
        let full = Incumbent::priced(instance, all)?;
        Ok(match (lean, full) {
            (Some(lean), Some(full)) => Some(if full.cost() < lean.cost() { full } else { lean }),
            (lean, full) => lean.or(full),
        })
    }

    /// The plan of the rack's boards that a plan of another problem holds. The other problem has the same parts and
    /// the same rack, wants as much or more, and may have more on offer. `None` if a rack board is no longer of use.
    ///
    /// # Errors
    /// If a sum is too large to be held exactly.
    pub fn of_rack(
        instance: &Instance,
        other: &Instance,
        boards: &[CutBoards],
    ) -> Result<Option<Incumbent>, Overflow> {
        let size_of = |size: SizeIndex| {
            let (part, _) = other.sizes[size].parts[0];
            let is_of = |size: &Size| size.parts.iter().any(|(own, _)| *own == part);
            instance.sizes.iter_enumerated().find(|(_, size)| is_of(size)).map(|(size, _)| size)
        };
        let mut pool = Pool::new(instance);
        let mut cuts = Vec::new();
        for CutBoards { source, pattern, copies } in boards {
            if !matches!(source, Supply::Rack(_)) {
                continue;
            }
            let stock = instance.stock_of(source);
            let mut pattern = pattern.clone();
            let cells = pattern.strips.iter_mut().flat_map(|strip| &mut strip.cells);
            let mut all_known = true;
            for piece in cells.flat_map(|cell| &mut cell.pieces) {
                match size_of(piece.index()) {
                    Some(size) => *piece = piece.with_index(size),
                    None => all_known = false,
                }
            }
            let Some(stock) = stock.filter(|_| all_known) else { return Ok(None) };
            let (pattern, _) = pool.take(instance.stocks[stock].shape, pattern);
            cuts.push(Cut { stock, pattern, copies: *copies });
        }
        let given = |size: SizeIndex| -> u64 {
            let of = |cut: &Cut| {
                let entry = &pool.patterns[cut.pattern];
                let counts = pool.given(entry.shape, &entry.pattern).into_iter();
                let pieces: u64 = counts.filter(|(own, _)| *own == size).map(|(_, n)| u64::from(n)).sum();
                pieces * u64::from(cut.copies)
            };
            cuts.iter().map(of).sum()
        };
        let is_met = |(size, pieces): (SizeIndex, &u32)| given(size) >= u64::from(*pieces);
        if !instance.demand().iter_enumerated().all(is_met) {
            return Ok(None);
        }
        Incumbent::new(instance, &cuts, &pool)
    }

    /// The boards of a plan of another problem, cut alike, at this problem's prices. The other problem has the same sizes
    /// and wants as much or more. Whether they are right here is for the check to say: a kerf may be wider. `None` where
    /// the sizes differ, a board is not on offer, or a minimum order is not reached.
    ///
    /// # Errors
    /// If a sum is too large to be held exactly.
    pub fn carried(
        instance: &Instance,
        other: &Instance,
        boards: &[CutBoards],
    ) -> Result<Option<Incumbent>, Overflow> {
        let parts = |size: &Size| size.parts.iter().map(|(part, _)| *part).collect::<Vec<_>>();
        let is_alike = |(own, other): (&Size, &Size)| {
            own.piece == other.piece && own.demand <= other.demand && parts(own) == parts(other)
        };
        let same_sizes = instance.sizes.len() == other.sizes.len()
            && instance.sizes.iter().zip(&other.sizes).all(is_alike);
        let kerfs = |of: &Instance, stock: StockIndex| of.cutting(of.stocks[stock].shape).kerfs;
        let uses = boards.iter().map(|CutBoards { source, pattern, copies }| {
            let stock = instance.stock_of(source)?;
            let (own, before) = (kerfs(instance, stock), kerfs(other, other.stock_of(source)?));
            let thinner = (before.0.saturating_sub(own.0), before.1.saturating_sub(own.1));
            Some((stock, pattern.with_thinner_kerfs(thinner), *copies))
        });
        match uses.collect::<Option<Uses>>() {
            Some(uses) if same_sizes => Incumbent::priced(instance, uses),
            _ => Ok(None),
        }
    }

    fn priced(instance: &Instance, boards: Uses) -> Result<Option<Incumbent>, Overflow> {
        let boards = with_boards_in_turn(instance, boards);
        let mut lines: BTreeMap<LineIndex, u64> = BTreeMap::new();
        let mut rack = Money::ZERO;
        let mut taken: BTreeMap<StockIndex, usize> = BTreeMap::new();
        let mut named = Vec::new();
        for (stock, pattern, copies) in boards {
            match &instance.stocks[stock].source {
                Supply::Line(line) => {
                    *lines.entry(*line).or_insert(0) += u64::from(copies);
                    named.push(CutBoards { source: Supply::Line(*line), pattern, copies });
                }
                Supply::Drawn(line, board) => {
                    *lines.entry(*line).or_insert(0) += u64::from(copies);
                    named.push(CutBoards { source: Supply::Drawn(*line, *board), pattern, copies });
                }
                Supply::Rack(group) => {
                    let from = taken.entry(stock).or_insert(0);
                    for board in &group[*from..*from + copies as usize] {
                        rack += instance.job.rack[*board].value;
                        let source = Supply::Rack(vec![*board]);
                        named.push(CutBoards { source, pattern: pattern.clone(), copies: 1 });
                    }
                    *from += copies as usize;
                }
            }
        }
        let purchase = Purchase::new(&instance.job, &lines)?;
        if !purchase.below_minimum.is_empty() {
            return Ok(None);
        }
        named.sort_by(|one, other| one.source.cmp(&other.source));
        // Up to a cent, so that a bound on the exact values holds for what is printed.
        Ok(Some(Incumbent { boards: named, purchase, rack: rack.rounded_up(), values: TiVec::new() }))
    }

    /// Lumber, delivery and rack value.
    pub fn cost(&self) -> Money {
        self.purchase.lumber + self.purchase.delivery + self.rack
    }
}

type Uses = Vec<(StockIndex, Pattern, u32)>;

/// Drawn boards come in turn: whoever buys the last of these buys the others that come before it as well.
fn with_boards_in_turn(instance: &Instance, mut boards: Uses) -> Uses {
    let mut used: BTreeMap<StockIndex, u64> = BTreeMap::new();
    boards.iter().for_each(|(stock, _, copies)| *used.entry(*stock).or_insert(0) += u64::from(*copies));
    for lot in &instance.lots {
        let draws = lot.len();
        let of = |stock: &StockIndex| used.get(stock).copied().unwrap_or(0);
        let last = |(place, stock): (usize, &StockIndex)| match of(stock) {
            0 => 0,
            boards => (boards - 1) * draws as u64 + place as u64 + 1,
        };
        let bought = lot.iter().enumerate().map(last).max().unwrap_or(0);
        for (place, stock) in lot.iter().enumerate() {
            let idle = share_of(bought, place, draws) - of(stock);
            if idle > 0 {
                boards.push((*stock, Pattern::empty(), idle as u32));
            }
        }
    }
    boards
}

/// Boards with the pieces that are really wanted, and boards left without any.
fn needed_boards(instance: &Instance, cuts: &[Cut], pool: &Pool) -> (Uses, Uses) {
    let mut left = instance.demand();
    let mut used: Uses = Vec::new();
    let mut idle: Uses = Vec::new();
    for cut in cuts {
        let entry = &pool.patterns[cut.pattern];
        let mut open = cut.copies;
        while open > 0 {
            let blanks = instance.blanks(entry.shape);
            let (_, mut pieces) = before_resawing(blanks, &ti_vec![0; left.len()], &left);
            let has_defects = !instance.shapes[entry.shape].blocks.is_empty();
            let piece = |size: SizeIndex| instance.sizes[size].piece;
            let pattern = entry.pattern.trimmed_to(&mut pieces, has_defects, &piece);
            if pattern.strips.is_empty() {
                idle.push((cut.stock, Pattern::empty(), open));
                break;
            }
            let given: Counts =
                pattern.counts().into_iter().map(|(size, n)| (size, n * blanks_in(blanks, size))).collect();
            // The next boards are trimmed alike as long as all that is given is wanted.
            let alike = given.iter().map(|(size, n)| left[*size] / n).min().unwrap_or(0);
            let alike = alike.clamp(1, open);
            for (size, n) in given {
                let left = &mut left[size];
                *left = left.saturating_sub(n * alike);
            }
            used.push((cut.stock, pattern, alike));
            open -= alike;
        }
    }
    (used, idle)
}

/// What is known so far; it only improves.
#[derive(Debug, Default)]
struct Known {
    best: Option<Incumbent>,
    bound: i64,
}

/// Called whenever the plan or the bound improves, with (cost, bound in ticks).
pub type Watcher<'a> = dyn Fn(Option<Money>, i64) + Sync + 'a;

/// The incumbent and the bound, shared by all threads.
pub struct Shared<'a> {
    known: Mutex<Known>,
    watcher: &'a Watcher<'a>,
}

impl<'a> Shared<'a> {
    /// Nothing known yet.
    pub fn new(watcher: &'a Watcher<'a>) -> Shared<'a> {
        Shared { known: Mutex::default(), watcher }
    }

    fn known(&self) -> std::sync::MutexGuard<'_, Known> {
        // A panicking thread leaves a whole value behind: every change is one assignment.
        self.known.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }

    /// Takes a plan if it is cheaper than the best one.
    pub fn offer(&self, incumbent: Incumbent) {
        let mut known = self.known();
        if known.best.as_ref().is_none_or(|best| incumbent.cost() < best.cost()) {
            known.best = Some(incumbent);
            self.tell(&known);
        }
    }

    /// Raises the bound, never lowers it.
    pub fn raise_bound(&self, bound: i64) {
        let mut known = self.known();
        // A row of drawn boards is rounded once, which may take half a cent off what was proven of its boards.
        let bound = known.best.as_ref().map_or(bound, |best| bound.min(money_ticks(best.cost())));
        if bound > known.bound {
            known.bound = bound;
            self.tell(&known);
        }
    }

    fn tell(&self, known: &Known) {
        (self.watcher)(known.best.as_ref().map(Incumbent::cost), known.bound);
    }

    /// The best plan's cost in ticks.
    pub fn cost_ticks(&self) -> Option<i64> {
        self.known().best.as_ref().map(|best| money_ticks(best.cost()))
    }

    /// The best plan and the bound.
    pub fn into_parts(self) -> (Option<Incumbent>, i64) {
        let known = self.known.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
        (known.best, known.bound)
    }
}
