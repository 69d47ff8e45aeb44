//! Fewer settings for a little more lumber at most: layouts are freed and cut anew, each charged its
//! settings.
//!
//! The integer program with a charge for every pattern used (Vanderbeck, "Exact algorithm for minimising
//! the number of setups in the one-dimensional cutting stock problem", Operations Research 48(6), 2000,
//! 915-926) is too hard as a whole, so a few layouts at a time are freed and the rest stays (large
//! neighbourhood search: Shaw, CP 1998). Boards of the layouts that stay may become more, at no charge.

use std::collections::BTreeSet;

use fastrand::Rng;
use rayon::prelude::*;

use super::alike::more_alike;
use super::along::sawn_along;
use crate::index::{PatternIndex, SizeIndex, TiVec, ti_vec};
use crate::job::Fit;
use crate::measure::{Length, Money, Overflow};
use crate::pattern::{self, Pattern, Rect, Values};
use crate::solve::incumbent::Incumbent;
use crate::solve::options::Options;
use crate::solve::problem::{
    Counts, Cut, Instance, Listed, Market, Offer, Task, can_be_had, cost, merged, money_ticks, worth,
};
use crate::solve::relax::{Pool, PoolPattern, Pricer, generate};
use crate::solve::search::{Aim, Backend, Charged, Component, Planned, charged};
use crate::solve::solution::Solution;
use crate::solve::stop::{Searched, Stop};
use crate::solve::tolerances as tol;

/// Plans that cost at most `most`, where `each` more is paid for a setting less: the solution with boards
/// made alike, and one with fewer settings where one is found; and what was done for them. The dealers sell on
/// the solution's terms.
///
/// # Errors
/// If a sum is too large to be held exactly.
pub fn fewer_settings(
    solution: &Solution,
    most: Money,
    each: Money,
    options: &Options,
) -> Result<(Vec<Incumbent>, Searched), Overflow> {
    let stop = options.stop();
    let mut found = plans_with_fewer(solution, most, each, options, &stop)?;
    found.retain(|plan| plan.cost() <= most);
    Ok((found, stop.searched()))
}

fn plans_with_fewer(
    solution: &Solution,
    most: Money,
    each: Money,
    options: &Options,
    stop: &Stop,
) -> Result<Vec<Incumbent>, Overflow> {
    let instance: &Instance = solution.instance();
    let alike = |plan: Incumbent| Incumbent { boards: more_alike(instance, plan.boards), ..plan };
    let mut found = vec![alike(solution.incumbent.clone())];
    if stop.begins_no_turn() {
        return Ok(found);
    }
    let market = Market::new(instance, &solution.terms())?;
    let sizes: Vec<SizeIndex> = instance.sizes.keys().collect();
    let task = Task::whole(instance, &market, &sizes);
    let mut pool = Pool::new(instance);
    let generated = generate(&task, &mut pool, stop);
    let limit = money_ticks(most) - market.fixed;
    let values = generated.values();
    let picks = repeated(&task, &values, &mut pool, limit, stop);
    if !stop.ends_turn() {
        return Ok(found);
    }
    let mut cuts: Vec<Cut> = Vec::new();
    for board in &found[0].boards {
        let Some(stock) = instance.stock_of(&board.source) else { return Ok(found) };
        let (pattern, _) = pool.take(instance.stocks[stock].shape, board.pattern.clone());
        cuts.push(Cut { stock, pattern, copies: board.copies });
    }
    let cuts = merged(cuts);
    let mut search = SettingsSearch::new(&task, &pool, &values, limit, options.backend);
    let fewer = search.run(cuts.clone(), money_ticks(each), options.seed, stop);
    let saved = 1.0 - search.settings(&fewer) as f64 / search.settings(&cuts).max(1) as f64;
    found.extend(Incumbent::new(instance, &fewer, &pool)?.map(alike));
    if saved < tol::SETTINGS_SAVED {
        // The long search cuts boards in many ways, which are hard to make alike again. So there are two other plans:
        // one of patterns that can be repeated, and one straight from the linear program.
        for kept in [&picks[..], &[]] {
            if stop.begins_no_turn() {
                break;
            }
            let completed = completed(&task, kept, &mut pool, limit, options, stop);
            if !stop.ends_turn() {
                break;
            }
            if let Some(cuts) = completed {
                found.extend(Incumbent::new(instance, &cuts, &pool)?.map(alike));
            }
        }
    }
    Ok(found)
}

/// Patterns that can be cut many times each: one after the other, on as many boards as the demand bears, as
/// long as a plan of at most `limit` ticks is not ruled out (Haessler, "Controlling cutting pattern changes
/// in one-dimensional trim problems", Operations Research 23(3), 1975, 483-493, with dual values in place of
/// his aspiration levels).
fn repeated(task: &Task<'_>, values: &Values, pool: &mut Pool, limit: i64, stop: &Stop) -> Vec<Cut> {
    let offers = task.offers();
    let pricer = Pricer::new(task, &offers);
    let mut rest = task.clone();
    let mut spent = 0;
    let mut picks = Vec::new();
    let mut copies = rest.demand.iter().copied().max().unwrap_or(0);
    while copies > 1 && !stop.is_due() {
        let limits: TiVec<SizeIndex, u32> = rest.demand.iter().map(|pieces| pieces / copies).collect();
        let worth_of_rest: i64 =
            rest.demand.iter().zip(values).map(|(pieces, value)| i64::from(*pieces) * value).sum();
        let room = limit - spent - worth_of_rest;
        let prices = pricer.price(values, &limits, &ti_vec![0; task.instance.shapes.len()]);
        let mut best: Option<(i64, Offer, &Pattern, Counts)> = None;
        for offer in
            offers.iter().filter(|offer| rest.available[offer.stock].is_none_or(|left| left >= copies))
        {
            let Ok(place) = prices.binary_search_by_key(&offer.shape, |price| price.shape) else { continue };
            for (pattern, _) in &prices[place].patterns {
                let counts = pool.given(offer.shape, pattern);
                let within = counts.iter().all(|(size, n)| n * copies <= rest.demand[*size]);
                // What the board costs beyond what its pieces are worth.
                let over = offer.cost - worth(values, &counts);
                // Half its share of the room, by cost: whole boards for the rest need some as well.
                let fair = i128::from(room.max(0)) * i128::from(offer.cost) / 2;
                let good = i128::from(over) * i128::from((limit - spent).max(1)) <= fair;
                if within && good && best.as_ref().is_none_or(|(least, ..)| over < *least) {
                    best = Some((over, *offer, pattern, counts));
                }
            }
        }
        let Some((_, offer, pattern, counts)) = best.filter(|(.., counts)| !counts.is_empty()) else {
            // One by one where that makes a difference, and in steps where the demand is large.
            copies -= (copies / 20).max(1);
            continue;
        };
        let (pattern, _) = pool.take(offer.shape, pattern.clone());
        rest.take_many(offer.stock, &counts, copies);
        spent += offer.cost * i64::from(copies);
        picks.push(Cut { stock: offer.stock, pattern, copies });
    }
    picks
}

/// Some cuts and a plan of what they leave, for at most `limit` ticks.
fn completed(
    task: &Task<'_>,
    kept: &[Cut],
    pool: &mut Pool,
    limit: i64,
    options: &Options,
    stop: &Stop,
) -> Option<Vec<Cut>> {
    let mut rest = task.clone();
    for cut in kept {
        let counts = pool.patterns[cut.pattern].counts.clone();
        rest.take_many(cut.stock, &counts, cut.copies);
    }
    let mut cuts = kept.to_vec();
    if rest.is_open() {
        let left = limit - cost(task.market, &merged(cuts.clone()));
        let generated = generate(&rest, pool, stop);
        if generated.unmet || generated.bound > left {
            return None;
        }
        let aim = Aim { gap: 0.0, seed: options.seed, backend: options.backend };
        let Planned::Found(mut component) = Component::start(&rest, &generated, pool.clone(), aim, stop)
        else {
            return None;
        };
        for _ in 0..tol::SETTINGS_SLICES {
            if component.cost(&rest) <= left || component.is_idle(&rest) || stop.is_due() {
                break;
            }
            component.improve(&rest, &generated, aim, stop);
        }
        if component.cost(&rest) > left {
            return None;
        }
        cuts.extend(
            component
                .cuts
                .iter()
                .map(|cut| Cut { pattern: pool.adopt(&component.pool, cut.pattern), ..*cut }),
        );
    }
    Some(merged(cuts))
}

/// What the boards of a pattern are sawn at.
#[derive(Debug, PartialEq, Eq)]
struct SawnAt {
    board: (Rect, pattern::Layout),
    /// By stage; whether it is a stop.
    settings: BTreeSet<(u8, bool, Length)>,
}

impl SawnAt {
    fn of(instance: &Instance, entry: &PoolPattern) -> SawnAt {
        let layout = entry.pattern.layout;
        let stops_first = layout == pattern::Layout::CrosscutFirst;
        let sheets = instance.kinds[instance.shapes[entry.shape].kind].sheets;
        let mut settings = BTreeSet::new();
        for strip in &entry.pattern.strips {
            for laid in strip.cells.iter().flat_map(|cell| &cell.pieces) {
                let size = &instance.sizes[laid.index()];
                let piece = laid.piece(size.piece);
                let (main, run) = layout.axes(piece.length, piece.width);
                // What is cut to a line needs no stop.
                let to_stop = size.parts.iter().any(|(part, _)| instance.job.parts[*part].fit != Fit::ToWork);
                let trimmed = (main < strip.main).then_some((3, stops_first, main));
                let cuts = [(1, stops_first, strip.main), (2, !stops_first, run)].into_iter().chain(trimmed);
                // One fence of the sheet saw serves both ways.
                let cuts = cuts.map(|(stage, is_stop, size)| (stage, is_stop && !sheets, size));
                settings.extend(cuts.filter(|(_, is_stop, _)| to_stop || !is_stop));
            }
        }
        SawnAt { board: (instance.shapes[entry.shape].rect, layout), settings }
    }

    /// Are its boards sawn along with those of another layout, at settings that are made for them?
    fn goes_along_with(&self, other: &SawnAt) -> bool {
        self.board == other.board && self.settings.is_subset(&other.settings)
    }
}

struct SettingsSearch<'a> {
    task: &'a Task<'a>,
    pool: &'a Pool,
    /// By pattern.
    layouts: TiVec<PatternIndex, SawnAt>,
    values: &'a Values,
    limit: i64,
    backend: Backend,
    /// Ticks that a setting is charged.
    each: i64,
}

impl<'a> SettingsSearch<'a> {
    fn new(
        task: &'a Task<'a>,
        pool: &'a Pool,
        values: &'a Values,
        limit: i64,
        backend: Backend,
    ) -> SettingsSearch<'a> {
        let layouts = pool.patterns.iter().map(|entry| SawnAt::of(task.instance, entry)).collect();
        SettingsSearch { task, pool, layouts, values, limit, backend, each: 0 }
    }

    /// Searches at a part of the charge first: cheaper plans leave more of the limit for fewer settings.
    fn run(&mut self, cuts: Vec<Cut>, each: i64, seed: u64, stop: &Stop) -> Vec<Cut> {
        let mut random = Rng::with_seed(seed);
        let mut plan = cuts;
        for share in tol::SETTINGS_CHARGES {
            self.each = (each as f64 * share) as i64;
            plan = self.improve(plan, &mut random, stop);
        }
        plan
    }

    /// Frees layouts again and again, several sets of them at a time, until nothing is gained any more.
    fn improve(&self, mut plan: Vec<Cut>, random: &mut Rng, stop: &Stop) -> Vec<Cut> {
        let mut idle = 0;
        while idle < tol::SETTINGS_IDLE_BATCHES && !stop.begins_no_turn() {
            let batches: Vec<BTreeSet<Cut>> =
                (0..tol::EXCHANGES_AT_ONCE).filter_map(|_| self.choose(&plan, random)).collect();
            let found: Vec<Option<Vec<Cut>>> =
                batches.par_iter().map(|freed| self.recut(&plan, freed, stop)).collect();
            if !stop.ends_turn() {
                break;
            }
            let before = self.charged_cost(&plan);
            for (freed, cuts) in batches.iter().zip(found) {
                let Some(cuts) = cuts else { continue };
                // Another exchange may have taken some of them already, or added to their boards.
                let kept = plan.iter().filter(|cut| !freed.iter().any(|freed| freed.same_column(cut)));
                let next = merged(kept.copied().chain(cuts).collect());
                if self.is_better(&next, &plan) {
                    plan = next;
                }
            }
            idle = if self.charged_cost(&plan) < before { 0 } else { idle + 1 };
        }
        plan
    }

    /// What cuts cost with their settings.
    fn charged_cost(&self, cuts: &[Cut]) -> i64 {
        cost(self.task.market, cuts) + self.each * self.settings(cuts) as i64
    }

    /// Settings made for one layout after the other.
    fn settings(&self, cuts: &[Cut]) -> usize {
        let layouts = cuts.iter().map(|cut| &self.layouts[cut.pattern]);
        let layouts: Vec<_> = layouts.map(|layout| (&layout.board, &layout.settings)).collect();
        let first = layouts.iter().zip(sawn_along(&layouts)).filter(|(_, leader)| leader.is_none());
        first.map(|((_, settings), _)| settings.len()).sum()
    }

    fn charge(&self, layout: &SawnAt) -> i64 {
        self.each * layout.settings.len() as i64
    }

    fn is_better(&self, next: &[Cut], plan: &[Cut]) -> bool {
        let mut rest = self.task.clone();
        for cut in next {
            rest.take_many(cut.stock, &self.pool.patterns[cut.pattern].counts, cut.copies);
        }
        !rest.is_open()
            && cost(self.task.market, next) <= self.limit
            && self.charged_cost(next) < self.charged_cost(plan)
            && can_be_had(self.task, next)
    }

    /// Some layouts of sizes that can help each other, sooner those of few boards.
    fn choose(&self, plan: &[Cut], random: &mut Rng) -> Option<BTreeSet<Cut>> {
        let set_of = |cut: &Cut| {
            let counts = &self.pool.patterns[cut.pattern].counts;
            counts.first().map(|(size, _)| self.task.instance.set_of_size[*size])
        };
        let first = plan.get(random.usize(..plan.len().max(1)))?;
        let set = set_of(first)?;
        let related: Vec<&Cut> = plan.iter().filter(|cut| set_of(cut) == Some(set)).collect();
        let mut freed = BTreeSet::from([*first]);
        for _ in 1..random.usize(tol::SETTINGS_LAYOUTS) {
            let one = related[random.usize(..related.len())];
            let other = related[random.usize(..related.len())];
            freed.insert(if one.copies <= other.copies { *one } else { *other });
        }
        (freed.len() > 1).then_some(freed)
    }

    /// What the freed layouts gave, from fewer of them, from others, or from more boards of those kept.
    fn recut(&self, plan: &[Cut], freed: &BTreeSet<Cut>, stop: &Stop) -> Option<Vec<Cut>> {
        let mut rest = self.task.clone();
        let kept: Vec<Cut> = plan.iter().filter(|cut| !freed.contains(cut)).copied().collect();
        for cut in &kept {
            rest.take_many(cut.stock, &self.pool.patterns[cut.pattern].counts, cut.copies);
        }
        let useful = self.useful(&rest, &kept, freed);
        let mut made: Vec<&SawnAt> = Vec::new();
        for (column, _) in useful.iter().filter(|(_, is_free)| !is_free) {
            let layout = &self.layouts[column.pattern];
            if !made.contains(&layout) {
                made.push(layout);
            }
        }
        let charged_columns = useful.into_iter().map(|(column, is_free)| {
            let layout = &self.layouts[column.pattern];
            let serves = |charge: &usize| !is_free && layout.goes_along_with(made[*charge]);
            Charged { column, one_of: (0..made.len()).filter(serves).collect() }
        });
        let columns = charged_columns.collect();
        let charges: Vec<i64> = made.iter().map(|layout| self.charge(layout)).collect();
        let cutoff = self.charged_cost(plan) - self.charged_cost(&kept) - tol::HALF_A_CENT;
        charged(&rest, columns, &charges, cutoff, tol::SETTINGS_NODES, self.backend, stop)
    }

    /// Are the settings of a layout made for others anyway?
    fn is_made(&self, layout: &SawnAt, kept: &[Cut]) -> bool {
        kept.iter().any(|cut| layout.goes_along_with(&self.layouts[cut.pattern]))
    }

    /// Columns that may give what is left: those freed, which can do it for sure, and the best others. Each
    /// with whether its settings are made anyway.
    fn useful(&self, rest: &Task<'_>, kept: &[Cut], freed: &BTreeSet<Cut>) -> Vec<(Listed, bool)> {
        let mut useful: Vec<(i64, Listed, bool)> = Vec::new();
        for (pattern, entry) in self.pool.patterns.iter_enumerated() {
            let counts = rest.cut_down(&entry.counts);
            if counts.is_empty() {
                continue;
            }
            let layout = &self.layouts[pattern];
            let is_free = self.is_made(layout, kept);
            let charge = if is_free { 0 } else { self.charge(layout) };
            for stock in &self.task.instance.shapes[entry.shape].stocks {
                if let Some(cost) = self.task.market.costs[*stock]
                    && rest.available[*stock] != Some(0)
                {
                    let is_freed = freed.iter().any(|cut| (cut.stock, cut.pattern) == (*stock, pattern));
                    let over = cost + charge - worth(self.values, &counts);
                    let column = Listed { stock: *stock, pattern, cost, counts: counts.clone() };
                    useful.push((if is_freed { i64::MIN } else { over }, column, is_free));
                }
            }
        }
        useful.sort_by_key(|(order, column, _)| (*order, column.stock, column.pattern));
        useful.truncate(tol::SETTINGS_COLUMNS.max(freed.len()));
        useful.into_iter().map(|(_, column, is_free)| (column, is_free)).collect()
    }
}
