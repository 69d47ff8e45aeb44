//! What a batch's plan depends on, as one hash.

use crate::intake::digest;
use crate::job::Job;
use crate::solve::Options;

/// The hash of all that a batch's plan depends on, the program that makes it included: another build may
/// plan or print the same job in another way.
pub fn key(job: &Job, options: &Options, confidence_percent: f64) -> String {
    key_of_build(env!("RIPWRIGHT_BUILD"), job, options, confidence_percent)
}

fn key_of_build(build: &str, job: &Job, options: &Options, confidence_percent: f64) -> String {
    let content = format!(
        "{} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {} {} {:?} {:?} {}",
        build,
        job.shop,
        job.orders,
        job.parts,
        job.suppliers,
        job.lines,
        job.rack,
        job.work,
        job.rolls,
        options.gap_percent,
        options.seed,
        options.backend,
        options.time,
        confidence_percent,
    );
    digest(content.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Draft;

    /// A changed solver or sheet reused the results of the program before it.
    #[test]
    fn another_build_reuses_no_plan() {
        let job = Job::try_new(Draft::default()).unwrap();
        let options = Options::default();
        assert_ne!(key_of_build("one", &job, &options, 90.0), key_of_build("other", &job, &options, 90.0));
        assert_eq!(env!("RIPWRIGHT_BUILD").len(), 64);
    }
}
