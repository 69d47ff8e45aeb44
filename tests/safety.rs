//! Pieces too short to be milled alone and strips too narrow to be ripped against the fence.

mod support;

use ripwright::check::check;
use ripwright::document::Document;
use ripwright::intake::read_job;
use ripwright::job::{Job, JobError};
use support::{Folder, proven};

fn planned(parts: &str) -> (Job, Document) {
    let job = read(parts, "").unwrap();
    let document = proven(&job).1;
    (job, document)
}

fn read(parts: &str, shop: &str) -> Result<Job, JobError> {
    let fit = if parts.contains("to-work") { ",fit" } else { "" };
    let header = format!("product,part,pieces,length,width,thickness,species{fit}\n");
    let folder = Folder::new(&[
        ("orders.csv", "order,product,quantity\nA,box,1\n"),
        ("parts.csv", &format!("{header}{parts}")),
        ("prices/yard.csv", "species,quarter,grade,width,length,price,per\noak,4/4,1C,4,50,9,piece\n"),
        ("shop.toml", shop),
    ]);
    read_job(folder.path())
}

/// Under about 12 in pieces are not jointed or planed alone (common practice; makers' manuals). By hand:
/// a 50-in board with an inch off each end holds six pieces of 7 in and their kerfs of 1/8 in, 42 5/8 in.
/// The fifth cut of 7 in leaves 48 - 5 x 7 1/8 = 12 3/8 in with the sixth piece, which is enough; but each
/// piece is short as soon as its own cut is made, the first before anything else.
#[test]
fn short_pieces_are_milled_before_they_are_cut_off() {
    let (job, document) = planned("box,block,6,7,3,3/4,oak\n");
    let board = &document.boards[0];
    let entry = &board.mill_joined[0];
    let first = board.cuts.iter().find(|cut| cut.kind == "crosscut").unwrap();
    assert_eq!((entry.part.as_str(), entry.before_step), ("block", first.step));
    assert_eq!(entry.length, 48.0);
    for change in [
        |document: &mut Document| document.boards[0].mill_joined[0].before_step += 1,
        |document: &mut Document| document.boards[0].mill_joined[0].length += 1.0,
        |document: &mut Document| document.boards[0].mill_joined[0].part = "another".to_string(),
    ] {
        let mut changed = document.clone();
        change(&mut changed);
        assert!(check(&changed, &job).iter().any(|fault| fault.to_string().contains("as long as is said")));
    }
}

#[test]
fn pieces_that_are_long_enough_are_not_held_back() {
    let (_, document) = planned("box,rail,2,20,3,3/4,oak\n");
    assert!(document.boards.iter().all(|board| board.mill_joined.is_empty()));
}

/// Strips under an inch are not ripped between fence and blade (common practice).
#[test]
fn narrow_strips_are_told_apart() {
    let (_, document) = planned("box,bead,3,40,3/4,3/4,oak\nbox,rail,1,40,1,3/4,oak\n");
    let narrow: Vec<(f64, bool)> = document
        .setups
        .iter()
        .filter(|setup| setup.kind == "rip")
        .map(|setup| (setup.setting, setup.narrow))
        .collect();
    assert_eq!(narrow, [(1.0, false), (0.75, true)]);
}

/// A cut that the fence or the stop cannot be set to is left to another tool, or the part is refused by
/// name.
#[test]
fn cuts_beyond_the_reach_are_marked_or_refused() {
    let parts = "box,rail,1,40,3,3/4,oak\n";
    for (reach, marked) in [("max_crosscut_length = 40", false), ("max_crosscut_length = 39", true)] {
        let job = read(parts, &format!("[saw]\n{reach}\n")).unwrap();
        let (_, document) = proven(&job);
        let stop = document.setups.iter().find(|setup| setup.kind == "stop").unwrap();
        assert_eq!((stop.setting, stop.beyond_reach), (40.0, marked));
        assert_eq!(read(parts, &format!("[saw]\nbeyond_reach = \"refuse\"\n{reach}\n")).is_err(), marked);
    }
    for (reach, reason) in [
        ("max_crosscut_length = 39", "crosscut at 40 and the stop goes to 39"),
        ("max_rip_width = \"2 7/8\"", "ripped at 3 and the fence goes to 2 7/8"),
    ] {
        let shop = format!("[saw]\nbeyond_reach = \"refuse\"\n{reach}\n");
        let Err(JobError::Unobtainable(shortfalls)) = read(parts, &shop) else { panic!("it was read") };
        assert_eq!((shortfalls.len(), shortfalls[0].part.as_str()), (1, "rail"));
        assert!(shortfalls[0].reason.contains(reason), "{}", shortfalls[0].reason);
    }
    // A part that is cut to a line needs no stop.
    let to_work = "box,rail,1,40,3,3/4,oak,to-work\n";
    let refuse = "[saw]\nbeyond_reach = \"refuse\"\nmax_crosscut_length = 39\n";
    assert!(read(to_work, refuse).is_ok());
}

/// The labour of a setting for every size is in each plan, so it is proven with the rest. By hand: a rip and
/// a stop of 2 and 3 minutes at 60 an hour are 5.00; the rail as long and wide as the board's inside
/// between its trims (48 by 3 1/2) needs them as well, since the last trim is then made at its size.
#[test]
fn the_labour_of_settings_is_in_the_bound() {
    let labour = "[labour]\nhourly_rate = 60\n";
    for size in ["40,3", "48,3 1/2"] {
        let job = read(&format!("box,rail,1,{size},3/4,oak\n"), labour).unwrap();
        let (_, document) = proven(&job);
        let cost = &document.cost;
        assert_eq!(
            (cost.setup.as_str(), cost.total.as_str(), cost.lower_bound.as_str()),
            ("5.00", "14.00", "14.00")
        );
        assert_eq!(document.status, "optimal");
    }
}
