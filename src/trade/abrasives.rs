//! The grit ladder of the sanding bench (common practice).

use super::finish::Film;

/// Grits in the order they are used.
pub const GRITS: [u16; 5] = [100, 120, 150, 180, 220];

/// How a surface comes to the sanding bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Surface {
    /// Rough or deeply marked.
    Rough,
    /// With machine marks or glue.
    #[default]
    Machined,
    /// Smooth already.
    Smooth,
}

impl Surface {
    /// Every surface.
    pub const ALL: [Surface; 3] = [Surface::Rough, Surface::Machined, Surface::Smooth];

    /// As `finish.csv` writes it.
    pub fn name(self) -> &'static str {
        match self {
            Surface::Rough => "rough",
            Surface::Machined => "machined",
            Surface::Smooth => "smooth",
        }
    }

    /// The grit to begin with.
    pub fn first_grit(self) -> u16 {
        match self {
            Surface::Rough => 100,
            Surface::Machined => 120,
            Surface::Smooth => 150,
        }
    }
}

/// The grit to end with: a film hides finer scratches, an oil shows them.
pub fn last_grit(film: Film) -> u16 {
    match film {
        Film::Film => 180,
        Film::Oil => 220,
    }
}

/// The grits from `first` to `last`: as few as can be with at most one skipped between two, and of
/// those the ladder whose largest step is smallest.
pub fn ladder(first: u16, last: u16) -> Vec<u16> {
    let between: Vec<u16> = GRITS.into_iter().filter(|grit| (first..=last).contains(grit)).collect();
    let mut ladders: Vec<Vec<usize>> = vec![vec![0]];
    let mut done: Vec<Vec<usize>> = Vec::new();
    while let Some(ladder) = ladders.pop() {
        let at = ladder[ladder.len() - 1];
        if at + 1 >= between.len() {
            done.push(ladder);
            continue;
        }
        for next in (at + 1..=at + 2).filter(|next| *next < between.len()) {
            let mut longer = ladder.clone();
            longer.push(next);
            ladders.push(longer);
        }
    }
    let largest_step = |ladder: &Vec<usize>| {
        ladder.windows(2).map(|pair| between[pair[1]] - between[pair[0]]).max().unwrap_or(0)
    };
    let best = done.into_iter().min_by_key(|ladder| (ladder.len(), largest_step(ladder), ladder.clone()));
    best.unwrap_or_default().into_iter().filter_map(|place| between.get(place).copied()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice: the three worked ladders.
    #[test]
    fn ladders_skip_at_most_one_grit_and_take_even_steps() {
        assert_eq!(ladder(120, 180), [120, 180]);
        assert_eq!(ladder(100, 220), [100, 150, 220]);
        assert_eq!(ladder(100, 180), [100, 150, 180]);
    }

    #[test]
    fn every_surface_and_finish_has_a_ladder_from_its_first_to_its_last_grit() {
        for surface in Surface::ALL {
            for film in Film::ALL {
                let grits = ladder(surface.first_grit(), last_grit(film));
                assert_eq!(grits.first(), Some(&surface.first_grit()));
                assert_eq!(grits.last(), Some(&last_grit(film)));
                for pair in grits.windows(2) {
                    let place = |grit: u16| GRITS.iter().position(|one| *one == grit).unwrap();
                    assert!((1..=2).contains(&(place(pair[1]) - place(pair[0]))), "{grits:?}");
                }
            }
        }
    }
}
