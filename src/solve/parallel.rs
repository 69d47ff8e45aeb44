//! Several searches side by side, each on threads of its own.

use super::options::Options;
use super::solution::SolveError;
use super::stop::Shares;
use std::sync::atomic::{AtomicUsize, Ordering};

pub fn workers(threads: usize) -> Result<rayon::ThreadPool, SolveError> {
    let built = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    built.map_err(|error| SolveError::Threads(error.to_string()))
}

/// Runs `work` on every item, as many at a time as the options have threads, each on threads of its
/// own, so that the time of one search is not spent on another. Each is given the options with its share
/// of their time, whether it starts first or last. The results are in the items' order.
///
/// # Errors
/// If the threads cannot be started.
pub fn side_by_side<T: Sync, R: Send>(
    options: &Options,
    items: &[T],
    work: impl Fn(&T, &Options) -> R + Sync,
) -> Result<Vec<R>, SolveError> {
    let threads = options.threads();
    let shares = Shares::new(options.time, threads, items.len());
    let work = |item: &T| work(item, &Options { time: shares.next(), ..options.clone() });
    let many = threads.min(items.len());
    // Where items are fewer than threads, each has several to itself.
    let own = threads / many.max(1);
    let lanes = (0..many).map(|_| workers(own)).collect::<Result<Vec<_>, _>>()?;
    let next = AtomicUsize::new(0);
    let (work, next) = (&work, &next);
    let done: Vec<Vec<(usize, R)>> = std::thread::scope(|scope| {
        let handles: Vec<_> = lanes
            .iter()
            .map(|lane| {
                scope.spawn(move || {
                    lane.install(|| {
                        let places = std::iter::from_fn(|| Some(next.fetch_add(1, Ordering::Relaxed)));
                        let mine = places.take_while(|place| *place < items.len());
                        mine.map(|place| (place, work(&items[place]))).collect()
                    })
                })
            })
            .collect();
        handles.into_iter().map(|handle| handle.join().unwrap_or_default()).collect()
    });
    let mut done: Vec<(usize, R)> = done.into_iter().flatten().collect();
    if done.len() < items.len() {
        return Err(SolveError::Threads("a search ended in a panic".to_string()));
    }
    done.sort_by_key(|(place, _)| *place);
    Ok(done.into_iter().map(|(_, result)| result).collect())
}
