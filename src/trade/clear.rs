//! Which defects a piece may hold.

/// What a defect does to the wood. The reverse side of a clear face cutting must be sound (NHLA rules, as the
/// summaries named at [`super::grading`] give them), so soundness and the face that shows it decide its use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum DefectKind {
    /// Wane, rot, a hole, a split, a knot that may fall out: the wood does not hold there.
    #[default]
    Unsound,
    /// A tight knot or stain that shows on both faces, or on the better one.
    Sound,
    /// The same, where the better face does not show it.
    SoundBack,
}

impl DefectKind {
    /// Every kind.
    pub const ALL: [DefectKind; 3] = [DefectKind::Unsound, DefectKind::Sound, DefectKind::SoundBack];

    /// As `rack.csv` and `plan.json` write it; nothing is unsound.
    pub fn name(self) -> &'static str {
        match self {
            DefectKind::Unsound => "",
            DefectKind::Sound => "sound",
            DefectKind::SoundBack => "sound back",
        }
    }

    /// Reads a kind; capitals and spaces between the words do not matter.
    pub fn parse(text: &str) -> Option<DefectKind> {
        let words: Vec<String> = text.split_whitespace().map(str::to_lowercase).collect();
        let text = words.join(" ");
        DefectKind::ALL.into_iter().find(|kind| kind.name() == text)
    }
}

/// How clear a part must be, the strictest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Clear {
    /// On both faces and all through.
    #[default]
    Yes,
    /// On one face; the other one is sound.
    Face,
    /// It is hidden or painted: sound is enough.
    No,
}

impl Clear {
    /// Every demand, the strictest first.
    pub const ALL: [Clear; 3] = [Clear::Yes, Clear::Face, Clear::No];

    /// As `parts.csv` and `plan.json` write it.
    pub fn name(self) -> &'static str {
        match self {
            Clear::Yes => "yes",
            Clear::Face => "face",
            Clear::No => "no",
        }
    }

    /// May a part hold such a defect?
    pub fn bears(self, kind: DefectKind) -> bool {
        match kind {
            DefectKind::Unsound => false,
            DefectKind::Sound => self == Clear::No,
            DefectKind::SoundBack => self >= Clear::Face,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_that_asks_for_less_bears_all_that_a_stricter_one_bears() {
        for kind in DefectKind::ALL {
            assert_eq!(DefectKind::parse(kind.name()), Some(kind));
            for pair in Clear::ALL.windows(2) {
                assert!(!pair[0].bears(kind) || pair[1].bears(kind), "{pair:?} {kind:?}");
            }
            assert!(!Clear::Yes.bears(kind));
        }
        assert!(!Clear::No.bears(DefectKind::Unsound) && !Clear::Face.bears(DefectKind::Sound));
    }
}
