fn main() {
    let folder = std::env::args().nth(1).unwrap();
    let job = match ripwright::job::read_job(std::path::Path::new(&folder)) { Ok(j) => j, Err(e) => { println!("{e}"); return; } };
    let inst = ripwright::solve::Instance::new(&job);
    println!("sizes {} kinds {} shapes {} stocks {} pieces {}", inst.sizes.len(), inst.kinds.len(), inst.shapes.len(), inst.stocks.len(), inst.demand().iter().sum::<u32>());
    let t = std::time::Instant::now();
    let gap: f64 = std::env::args().nth(2).map_or(1.0, |g| g.parse().unwrap());
    let time: f64 = std::env::args().nth(3).map_or(60.0, |g| g.parse().unwrap());
    let opts = ripwright::solve::Options { gap_percent: gap, time: Some(std::time::Duration::from_secs_f64(time)), ..Default::default() };
    let r = ripwright::solve::solve(&job, &opts, &|c, b| println!("{:.2}s {:?} {}", t.elapsed().as_secs_f64(), c.map(|c| c.to_string()), b));
    match r { Ok(s) => { println!("{:.2}s cost {} bound {} gap {:.3}%", t.elapsed().as_secs_f64(), s.incumbent.cost(), s.bound, 100.0*(s.incumbent.cost().to_f64()/s.bound.to_f64()-1.0)); }, Err(e) => println!("{e}") }
}
