//! Settings of the saws and the order in which they are made.

use std::collections::{BTreeMap, BTreeSet};

use super::board::{Box2, Replay, Seen};
use super::exact;
use super::fault::PlanFault;
use crate::document::{BoardEntry, Document, SetupEntry};
use crate::job::{Job, SheetSawKind, Shop};
use crate::measure::Length;

/// What holds a setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Held {
    /// The rip fence.
    Rip,
    /// A stop.
    Stop,
    /// The fence of the saw for sheets.
    Sheet,
}

/// What holds it, and what the saw leaves.
pub type Setting = (Held, Length);

/// Their names in the plan.
const KINDS: [&str; 3] = ["rip", "stop", "sheet"];

impl Held {
    /// By its name in the plan; a word that means nothing is no stop.
    pub fn of(kind: &str) -> Held {
        match kind {
            "stop" => Held::Stop,
            "sheet" => Held::Sheet,
            _ => Held::Rip,
        }
    }
}

/// What a cut is set to, if it is made at a fence or a stop.
pub fn setting_of(cut: &Seen, pieces: &[(Box2, bool)], is_sheet: bool) -> Option<Setting> {
    let Seen { freed, is_crosscut, is_trim, .. } = *cut;
    if is_trim {
        return None;
    }
    // A cut that frees no piece follows a line beside a defect.
    let frees = pieces.iter().any(|(piece, _)| piece.inside(&freed));
    // A crosscut is made to a stop unless all pieces that end at it are left long for the work.
    let mut ending = pieces.iter().filter(|(piece, _)| {
        piece.x1 == freed.x1 && piece.x0 == freed.x0 && piece.y0 >= freed.y0 && piece.y1 <= freed.y1
    });
    let size = if is_crosscut { freed.length() } else { freed.width() };
    match (is_sheet, is_crosscut) {
        // At the saw for sheets every cut that frees a piece is made at the fence.
        (true, _) => frees.then_some((Held::Sheet, size)),
        (false, false) => frees.then_some((Held::Rip, size)),
        (false, true) => ending.any(|(_, to_work)| !to_work).then_some((Held::Stop, size)),
    }
}

/// A cut among those of its board.
pub struct InSequence {
    /// The one that must be made before it, by place.
    pub after: Option<usize>,
    /// Does it run across?
    pub is_crosscut: bool,
    /// What it is set to.
    pub setting: Option<Setting>,
}

/// The cuts of a board.
pub type Sequence = Vec<InSequence>;

pub fn sequence(replayed: &Replay, pieces: &[(Box2, bool)], is_sheet: bool) -> Sequence {
    let in_sequence = |cut: &Seen| {
        let setting = setting_of(cut, pieces, is_sheet);
        InSequence { after: cut.after, is_crosscut: cut.is_crosscut, setting }
    };
    replayed.cuts.iter().map(in_sequence).collect()
}

/// Settings that a board needs by itself: one that it comes back to, after cuts the other way, is made anew.
fn made_alone(sequence: &Sequence) -> usize {
    // By cut, how often the direction has changed up to it.
    let mut turns: Vec<usize> = Vec::new();
    let mut made = BTreeSet::new();
    for cut in sequence {
        let turned =
            |before: usize| turns[before] + usize::from(sequence[before].is_crosscut != cut.is_crosscut);
        let now = cut.after.map_or(0, turned);
        turns.push(now);
        made.extend(cut.setting.map(|setting| (now, setting)));
    }
    made.len()
}

/// Can a board be cut if its settings are made in this order? Cuts along a line may be made at any time.
fn can_be_cut(sequence: &Sequence, order: impl Iterator<Item = Setting>) -> bool {
    let mut done: Vec<bool> = vec![false; sequence.len()];
    let ready = |done: &[bool], place: usize| sequence[place].after.is_none_or(|before| done[before]);
    let mut go_on = |now: Option<Setting>| {
        // A cut is listed after the one that frees its wood.
        for place in 0..sequence.len() {
            let setting = sequence[place].setting;
            let is_now = setting.is_none() || setting == now;
            done[place] |= is_now && ready(&done, place);
        }
        done.iter().all(|done| *done)
    };
    let mut all = go_on(None);
    for setting in order {
        all = go_on(Some(setting));
    }
    all
}

fn each_once(boards: &[String]) -> bool {
    boards.iter().collect::<BTreeSet<_>>().len() == boards.len()
}

/// An order of the settings must come to every board that is cut at each of them.
pub fn check_order(
    document: &Document,
    job: &Job,
    boards: &BTreeMap<Setting, BTreeSet<String>>,
    sequences: &BTreeMap<&str, Sequence>,
    faults: &mut Vec<PlanFault>,
) {
    let mut reached: BTreeMap<Setting, BTreeSet<String>> = BTreeMap::new();
    let mut orders: BTreeMap<&str, Vec<Setting>> = BTreeMap::new();
    for made in &document.settings_order {
        let key = (Held::of(&made.kind), exact(made.setting, job.shop.unit));
        if !KINDS.contains(&made.kind.as_str()) {
            faults.push(PlanFault::new("settings_order", "holds a setting of no kind that a saw has"));
        }
        if !each_once(&made.boards) {
            faults.push(PlanFault::new("settings_order", "comes to a board twice at one setting"));
        }
        reached.entry(key).or_default().extend(made.boards.iter().cloned());
        made.boards.iter().for_each(|board| orders.entry(board).or_default().push(key));
    }
    if reached != *boards {
        faults.push(PlanFault::new(
            "settings_order",
            "does not come to just the boards that each setting cuts",
        ));
    }
    for (id, sequence) in sequences {
        let order = orders.get(id).into_iter().flatten();
        if !can_be_cut(sequence, order.copied()) {
            let text = format!("comes to cuts of board {id} before the wood for them is freed");
            faults.push(PlanFault::new("settings_order", text));
        }
    }
    if document.settings_made != document.settings_order.len() {
        faults.push(PlanFault::new("settings_made", "is not the number of settings in their order"));
    }
}

/// A layout is sawn along with one of boards as large that is cut the same way first, at all its settings.
pub fn check_along(
    document: &Document,
    boards: &BTreeMap<Setting, BTreeSet<String>>,
    faults: &mut Vec<PlanFault>,
) {
    let mut settings: BTreeMap<&str, BTreeSet<Setting>> = BTreeMap::new();
    for (setting, boards) in boards {
        for board in boards {
            settings.entry(board).or_default().insert(*setting);
        }
    }
    let none = BTreeSet::new();
    let of = |board: &BoardEntry| settings.get(board.id.as_str()).unwrap_or(&none);
    let by_id: BTreeMap<&str, &BoardEntry> =
        document.boards.iter().map(|board| (board.id.as_str(), board)).collect();
    for board in &document.boards {
        let Some(leader) = &board.along_with else { continue };
        let leads = |other: &&BoardEntry| {
            let as_large = (other.length, other.width, other.grain.is_some())
                == (board.length, board.width, board.grain.is_some());
            let alike = as_large && other.layout == board.layout && other.along_with.is_none();
            alike && of(board).is_subset(of(other))
        };
        if !by_id.get(leader.as_str()).is_some_and(leads) {
            let text = format!("cannot be sawn along with board {leader}");
            faults.push(PlanFault::new(format!("board {}", board.id), text));
        }
    }
}

/// How many settings are made where one layout is sawn after the other, each with those that go along, and where every board
/// is sawn by itself.
pub fn check_counts(
    document: &Document,
    job: &Job,
    sequences: &BTreeMap<&str, Sequence>,
    faults: &mut Vec<PlanFault>,
) {
    let (mut by_layout, mut by_board) = (0, 0);
    for board in &document.boards {
        let made = sequences.get(board.id.as_str()).map_or(0, made_alone);
        let passes = match board.grain {
            // Sheets are sawn in stacks.
            Some(_) => job.shop.sheet_saw.passes(board.copies),
            None => board.copies,
        };
        by_board += u64::from(passes) * made as u64;
        if board.along_with.is_none() {
            by_layout += made;
        }
    }
    if document.settings_by_layout != by_layout {
        let text = format!("is not the {by_layout} that layouts need");
        faults.push(PlanFault::new("settings_by_layout", text));
    }
    if document.settings_by_board != by_board {
        faults.push(PlanFault::new("settings_by_board", format!("is not the {by_board} that boards need")));
    }
}

/// What holds a setting, and what its scale reads. A fence never serves as the stop itself: a block is clamped to it.
fn held_by(shop: &Shop, held: Held, setting: Length) -> (Option<&'static str>, Length) {
    if held != Held::Stop {
        return (None, setting);
    }
    let saw = &shop.saw;
    let with_block = setting + saw.standoff_block;
    let fence = (with_block <= saw.max_rip_width).then_some("fence");
    match (saw.stations.chop_saw, saw.stations.sled) {
        (None, None) if setting > saw.max_crosscut_length => (None, with_block),
        (None, None) => (fence.or(Some("long-stop")), with_block),
        (Some(longest), _) if setting <= longest => (Some("chop-saw"), setting),
        (_, Some(longest)) if setting <= longest => (Some("sled"), setting),
        _ if fence.is_some() => (fence, with_block),
        _ => (None, setting),
    }
}

pub fn check_setups(
    document: &Document,
    job: &Job,
    settings: &BTreeMap<Setting, u64>,
    boards: &BTreeMap<Setting, BTreeSet<String>>,
    faults: &mut Vec<PlanFault>,
) {
    let unit = job.shop.unit;
    let key = |setup: &SetupEntry| (Held::of(&setup.kind), exact(setup.setting, unit));
    let mut seen = BTreeSet::new();
    for setup in &document.setups {
        let (held, setting) = key(setup);
        let place = format!("the {} setting {}", setup.kind, setting.display(unit));
        if !seen.insert((held, setting)) {
            faults.push(PlanFault::new(place.clone(), "is made twice"));
        }
        let (station, reading) = held_by(&job.shop, held, setting);
        if exact(setup.fence_reading, unit) != reading {
            faults.push(PlanFault::new(place.clone(), "has a wrong fence reading"));
        }
        if !each_once(&setup.boards) {
            faults.push(PlanFault::new(place.clone(), "names a board twice"));
        }
        if !KINDS.contains(&setup.kind.as_str()) {
            faults.push(PlanFault::new(place.clone(), "is of no kind that a saw has"));
        }
        let saw = &job.shop.saw;
        let beyond = match held {
            Held::Rip => setting > saw.max_rip_width,
            Held::Sheet => {
                let saw = &job.shop.sheet_saw;
                saw.kind != SheetSawKind::TrackSaw && setting > saw.longest_rip
            }
            Held::Stop => station.is_none(),
        };
        let told = !document.is_bare();
        if told && setup.beyond_reach != beyond {
            faults.push(PlanFault::new(place.clone(), "is wrong about the reach of the saw"));
        }
        if told && setup.narrow != (held != Held::Stop && setting < job.shop.safety.narrowest_rip) {
            faults.push(PlanFault::new(place.clone(), "is wrong about what is too narrow for the fence"));
        }
        if told && setup.station.as_deref() != station {
            faults.push(PlanFault::new(place.clone(), "is at a machine that cannot hold it, or at none"));
        }
        let used: BTreeSet<String> = setup.boards.iter().cloned().collect();
        if settings.get(&(held, setting)) != Some(&setup.cuts) || boards.get(&(held, setting)) != Some(&used)
        {
            faults.push(PlanFault::new(place, "does not stand for the cuts that the boards need at it"));
        }
    }
    for (held, setting) in settings.keys().filter(|key| !seen.contains(key)) {
        let kind = match held {
            Held::Rip => "rip",
            Held::Stop => "stop",
            Held::Sheet => "sheet",
        };
        let place = format!("the {kind} setting {}", setting.display(unit));
        faults.push(PlanFault::new(place, "is needed and not listed"));
    }
}
