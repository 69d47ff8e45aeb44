//! Species: how their names are compared, and what is known of their wood.

/// Two spellings of one species: capitals and runs of spaces do not matter.
pub fn same_species(one: &str, other: &str) -> bool {
    // Asked for every part and every board: most names are plain, and need no text of their own to be compared.
    if !one.is_ascii() || !other.is_ascii() {
        return species_key(one) == species_key(other);
    }
    let (words, others) = (one.split_whitespace(), other.split_whitespace());
    let mut pairs = words.clone().zip(others.clone());
    one == other
        || (pairs.all(|(word, other)| word.eq_ignore_ascii_case(other)) && words.count() == others.count())
}

/// The spelling under which a species is compared.
pub fn species_key(species: &str) -> String {
    species.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

/// What is known of a wood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WoodFacts {
    /// The names that the trade uses.
    names: &'static [&'static str],
    /// Specific gravity at 12 % moisture content, in hundredths (Wood Handbook, mechanical properties table, from
    /// memory); none where nobody remembers it.
    pub gravity: Option<u16>,
    /// Change of width for each percent of moisture, in hundred-thousandths of the width: radial (quarter-sawn)
    /// and tangential (flat-sawn) (Wood Handbook, FPL-GTR-190, 2010, table 13-5).
    pub movement: Option<[u16; 2]>,
}

const fn wood(names: &'static [&'static str], gravity: u16, movement: [u16; 2]) -> WoodFacts {
    WoodFacts { names, gravity: Some(gravity), movement: Some(movement) }
}

const fn moves(names: &'static [&'static str], movement: [u16; 2]) -> WoodFacts {
    WoodFacts { names, gravity: None, movement: Some(movement) }
}

const WOODS: [WoodFacts; 16] = [
    wood(&["red oak", "northern red oak", "oak"], 63, [158, 369]),
    wood(&["white oak"], 68, [180, 365]),
    wood(&["sugar maple", "hard maple"], 63, [165, 353]),
    moves(&["red maple", "soft maple"], [137, 289]),
    wood(&["black cherry", "cherry"], 50, [126, 248]),
    wood(&["black walnut", "walnut"], 55, [190, 274]),
    wood(&["white ash", "ash"], 60, [169, 274]),
    wood(&["beech", "american beech"], 64, [190, 431]),
    WoodFacts { names: &["yellow-poplar", "yellow poplar", "poplar"], gravity: Some(42), movement: None },
    moves(&["yellow birch", "birch"], [256, 338]),
    moves(&["basswood"], [230, 330]),
    moves(&["butternut"], [116, 223]),
    moves(&["red alder", "alder"], [151, 256]),
    moves(&["sycamore"], [172, 296]),
    moves(&["sweetgum"], [183, 365]),
    moves(&["hackberry"], [165, 315]),
];

/// What is known of a species, where it is listed.
pub fn wood_facts(species: &str) -> Option<&'static WoodFacts> {
    let species = species_key(species);
    WOODS.iter().find(|wood| wood.names.contains(&species.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn capitals_and_runs_of_spaces_do_not_matter() {
        let names = [
            "Red  Oak",
            " red oak",
            "red oaks",
            "redoak",
            "red",
            "",
            "Éléphant  gris",
            "éléphant gris",
            "\u{b}red oak",
        ];
        for one in names {
            for other in names {
                assert_eq!(
                    same_species(one, other),
                    species_key(one) == species_key(other),
                    "{one:?} {other:?}"
                );
            }
        }
        assert!(same_species(names[0], names[1]) && !same_species(names[1], names[3]));
    }
}
