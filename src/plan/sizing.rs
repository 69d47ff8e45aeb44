//! What brings pieces from their cut size to the finished one, after milling: the second edge, then the last crosscut.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use super::model::{Plan, SetupKind};
use crate::index::PartIndex;
use crate::job::{Fit, Job, Part};
use crate::measure::Length;

/// Parts, and how many of each.
type PartsOfSize = Vec<(PartIndex, u64)>;

/// A last setting, with the parts that are brought to their size at it.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct FinalSetting {
    /// The fence, for the second edge, or a stop.
    pub kind: SetupKind,
    /// Are they glued up? Panels are crosscut where they lie flat and are held.
    pub is_glued: bool,
    /// The finished width or length.
    pub size: Length,
    /// Parts, and how many of each.
    pub parts: PartsOfSize,
}

/// The finished width of a part, if it is sawn or glued up wider.
pub fn final_width(part: &Part) -> Option<Length> {
    let is_wider = part.blank.make.is_glued() || part.blank.cut_width > part.width;
    (part.sheet.is_none() && is_wider).then_some(part.width)
}

/// The finished length of a part, if it is sawn or glued up longer and then cut to a stop. Parts that are fitted to the
/// work are brought to their length by hand.
pub fn final_length(part: &Part) -> Option<Length> {
    let to_stop = part.sheet.is_none() && part.fit == Fit::Stop;
    let is_longer = part.blank.make.is_glued() || part.blank.cut_length > part.length;
    (to_stop && is_longer).then_some(part.length)
}

/// The last settings: widths, then lengths, the largest first.
pub fn final_settings(plan: &Plan, job: &Job) -> Vec<FinalSetting> {
    let mut settings: BTreeMap<(SetupKind, bool, Reverse<Length>), PartsOfSize> = BTreeMap::new();
    for count in plan.parts.iter().filter(|count| count.cut > 0) {
        let part = &job.parts[count.part];
        let is_glued = part.blank.make.is_glued();
        let width = final_width(part).map(|width| (SetupKind::Rip, is_glued, Reverse(width)));
        let length = final_length(part).map(|length| (SetupKind::Stop, is_glued, Reverse(length)));
        for setting in [width, length].into_iter().flatten() {
            settings.entry(setting).or_default().push((count.part, part.required));
        }
    }
    let settings = settings.into_iter();
    let setting = |((kind, is_glued, size), parts): ((SetupKind, bool, Reverse<Length>), PartsOfSize)| {
        FinalSetting { kind, is_glued, size: size.0, parts }
    };
    settings.map(setting).collect()
}
