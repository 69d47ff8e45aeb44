//! A whole plan of the shipped demo, to a gap of 1 %.

use criterion::{Criterion, criterion_group, criterion_main};
use ripwright::intake::read_job;
use ripwright::measure::Unit;
use ripwright::solve::{Options, solve};

fn planning(criterion: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, content) in ripwright::demo::files(ripwright::demo::Demo::Furniture, Unit::Inch) {
        // The engine's speed on clear boards, which are proven to the gap.
        let clear = if *name == "shop.toml" { "\n[wood]\ndefects = \"none\"\n" } else { "" };
        let content = format!("{content}{clear}");
        ripwright::report::write_file(folder.path(), name, content.as_bytes()).expect("the demo's files");
    }
    let job = read_job(folder.path()).expect("the demo is a sound job");
    let mut group = criterion.benchmark_group("demo");
    group.sample_size(10);
    group.bench_function("plan to 1 %", |bencher| {
        bencher.iter(|| solve(&job, &Options::default(), &|_, _| ()).expect("a plan"));
    });
    group.finish();
}

criterion_group!(benches, planning);
criterion_main!(benches);
