//! Species: how their names are compared.

/// Two spellings of one species: capitals and runs of spaces do not matter.
pub fn same_species(one: &str, other: &str) -> bool {
    species_key(one) == species_key(other)
}

/// The spelling under which a species is compared.
pub fn species_key(species: &str) -> String {
    species.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}
