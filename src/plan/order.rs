//! The order in which settings are made, where all boards go through the saws together.
//!
//! A setting cuts everything that is wanted at it and whose board has all cuts of earlier stages. What
//! nothing later will want again is made first: it has to be made once anyway. Where everything that is
//! ready will be wanted again, each choice is tried to the end and the shortest order is followed (the
//! pilot method: Voss, Fink and Duin, Annals of Operations Research 136, 2005, 285-302).

use std::collections::{BTreeMap, BTreeSet};

use super::model::{Board, Boards, Made, SetupKind};
use crate::index::BoardIndex;
use crate::measure::Length;

/// What trying each choice to the end may cost, in settings looked at: large plans take the first choice.
const MOST_TRIED: usize = 1_000_000;

/// A setting: the stops come after the rips, the largest first.
type SettingAt = (SetupKind, std::cmp::Reverse<Length>);

/// Which of the settings that come back is made first.
#[derive(Clone, Copy)]
enum OrderRule {
    /// The one that fewest boards will want again.
    LeastAgain,
    /// One made at the same saw as the last of them. All boards then go through one saw first and through the
    /// other after it.
    SameSaw,
    /// Everything that is ready at one saw, then everything at the other, even what is wanted just once.
    InRounds,
}

impl OrderRule {
    /// The saw of the round after a choice.
    fn saw_after(self, (setting, again): (usize, bool), saw: Option<bool>, stops: &[bool]) -> Option<bool> {
        let turns = again || matches!(self, OrderRule::InRounds);
        if turns { Some(stops[setting]) } else { saw }
    }
}

/// What a board is cut at, by stage.
pub fn wanted(board: &Board) -> BTreeSet<(u8, SetupKind, Length)> {
    let set = board.cuts.iter().filter_map(|cut| Some((cut.stage, cut.setting?)));
    set.map(|(stage, (kind, setting))| (stage, kind, setting)).collect()
}

/// What boards still want: for each kind of them, by stage, the numbers of settings.
#[derive(Clone)]
struct Open {
    /// Stages in reverse: the last is the next one.
    boards: Vec<Vec<Vec<usize>>>,
    /// By setting, how many stages of boards want it.
    left: Vec<usize>,
}

impl Open {
    /// By setting, the boards that are ready for it.
    fn ready(&self) -> Vec<usize> {
        let mut ready = vec![0; self.left.len()];
        for stage in self.boards.iter().filter_map(|stages| stages.last()) {
            stage.iter().for_each(|setting| ready[*setting] += 1);
        }
        ready
    }

    /// Cuts everything that is ready; the boards that were.
    fn cut(&mut self, setting: usize) -> Vec<usize> {
        let mut cut = Vec::new();
        for (board, stages) in self.boards.iter_mut().enumerate() {
            while let Some(stage) = stages.last_mut()
                && let Some(place) = stage.iter().position(|other| *other == setting)
            {
                stage.swap_remove(place);
                self.left[setting] -= 1;
                if stage.is_empty() {
                    stages.pop();
                }
                if cut.last() != Some(&board) {
                    cut.push(board);
                }
            }
        }
        cut
    }

    /// Settings that are ready, the best first: whether each is wanted again later.
    fn choices(&self, last: Option<bool>, rule: OrderRule, stops: &[bool]) -> Vec<(usize, bool)> {
        let ready = self.ready();
        let mut choices: Vec<(usize, bool)> = (0..ready.len())
            .filter(|setting| ready[*setting] > 0)
            .map(|setting| (setting, self.left[setting] > ready[setting]))
            .collect();
        choices.sort_by_key(|(setting, again)| {
            let later = self.left[*setting] - ready[*setting];
            let saw = usize::from(Some(stops[*setting]) != last);
            match rule {
                OrderRule::LeastAgain => (usize::from(*again), later, saw, *setting),
                OrderRule::SameSaw => (usize::from(*again), saw, later, *setting),
                OrderRule::InRounds => (saw, usize::from(*again), later, *setting),
            }
        });
        choices
    }

    /// Settings until everything is cut, by the first choice each time.
    fn length_from(&self, first: (usize, bool), saw: Option<bool>, rule: OrderRule, stops: &[bool]) -> usize {
        let mut open = self.clone();
        let (mut made, mut saw, mut next) = (0, saw, Some(first));
        while let Some((setting, again)) = next {
            open.cut(setting);
            made += 1;
            saw = rule.saw_after((setting, again), saw, stops);
            next = open.choices(saw, rule, stops).first().copied();
        }
        made
    }
}

/// Settings in the order they are made.
pub fn order_of_settings(boards: &Boards) -> Vec<Made> {
    // Boards that want the same go through together.
    let mut alike: BTreeMap<BTreeSet<(u8, SetupKind, Length)>, Vec<BoardIndex>> = BTreeMap::new();
    for (place, board) in boards.iter_enumerated() {
        alike.entry(wanted(board)).or_default().push(place);
    }
    alike.remove(&BTreeSet::new());
    let settings: BTreeSet<SettingAt> =
        alike.keys().flatten().map(|(_, kind, setting)| (*kind, std::cmp::Reverse(*setting))).collect();
    let settings: Vec<SettingAt> = settings.into_iter().collect();
    let stops: Vec<bool> = settings.iter().map(|(kind, _)| *kind == SetupKind::Stop).collect();
    let mut open = Open { boards: Vec::new(), left: vec![0; settings.len()] };
    for wanted in alike.keys() {
        let mut stages: BTreeMap<std::cmp::Reverse<u8>, Vec<usize>> = BTreeMap::new();
        for (stage, kind, setting) in wanted {
            let Ok(number) = settings.binary_search(&(*kind, std::cmp::Reverse(*setting))) else { continue };
            stages.entry(std::cmp::Reverse(*stage)).or_default().push(number);
            open.left[number] += 1;
        }
        open.boards.push(stages.into_values().collect());
    }
    let rules = [OrderRule::LeastAgain, OrderRule::SameSaw, OrderRule::InRounds];
    let starts = rules.iter().flat_map(|rule| [false, true].map(|saw| (*rule, Some(saw))));
    let orders = starts.map(|(rule, saw)| in_order(open.clone(), saw, rule, &stops));
    let shortest = orders.min_by_key(Vec::len).unwrap_or_default();
    let groups: Vec<&Vec<BoardIndex>> = alike.values().collect();
    let made = shortest.into_iter().map(|(number, cut)| {
        let (kind, setting) = settings[number];
        let mut boards: Vec<BoardIndex> =
            cut.into_iter().flat_map(|group| groups[group].iter().copied()).collect();
        boards.sort_unstable();
        Made { kind, setting: setting.0, boards }
    });
    made.collect()
}

/// Settings with the kinds of boards that are cut at them.
fn in_order(mut open: Open, saw: Option<bool>, rule: OrderRule, stops: &[bool]) -> Vec<(usize, Vec<usize>)> {
    let wants: usize = open.left.iter().sum();
    let mut order = Vec::new();
    let mut saw = saw;
    loop {
        let choices = open.choices(saw, rule, stops);
        let Some(mut chosen) = choices.first().copied() else { return order };
        if chosen.1 && wants * stops.len() * choices.len() <= MOST_TRIED {
            let lengths = choices.iter().map(|choice| (open.length_from(*choice, saw, rule, stops), *choice));
            chosen = lengths.min_by_key(|(length, _)| *length).map_or(chosen, |(_, choice)| choice);
        }
        order.push((chosen.0, open.cut(chosen.0)));
        saw = rule.saw_after(chosen, saw, stops);
    }
}
