//! Pieces too short to be milled alone and strips too narrow to be ripped against the fence.

mod support;

use ripwright::job::{Job, read_job};
use ripwright::plan::check::check;
use ripwright::plan::document::Document;
use support::{Folder, proven};

fn planned(parts: &str) -> (Job, Document) {
    let header = "product,part,pieces,length,width,thickness,species\n";
    let folder = Folder::new(&[
        ("orders.csv", "order,product,quantity\nA,box,1\n"),
        ("parts.csv", &format!("{header}{parts}")),
        ("prices/yard.csv", "species,quarter,grade,width,length,price,per\noak,4/4,1C,4,50,9,piece\n"),
    ]);
    let job = read_job(folder.path()).unwrap();
    let document = proven(&job).1;
    (job, document)
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
