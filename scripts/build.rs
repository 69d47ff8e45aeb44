//! Names the build: a hash of everything that decides what the program does with the same inputs.

use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

/// Where the open data sets are.
const OPEN_DATA: &str = "../shared/data";

fn main() {
    let mut files = Vec::new();
    for place in ["src", "datasets", "Cargo.toml", "Cargo.lock"] {
        println!("cargo::rerun-if-changed={place}");
        gather(Path::new(place), &mut files);
    }
    // Tests of open data sets are told as ignored where the sets are not beside the project.
    println!("cargo::rustc-check-cfg=cfg(open_data)");
    if Path::new(OPEN_DATA).is_dir() {
        // A folder that is not there would count as changed on every build.
        println!("cargo::rerun-if-changed={OPEN_DATA}");
        println!("cargo::rustc-cfg=open_data");
    }
    files.sort();
    let mut digest = Sha256::new();
    for file in &files {
        digest.update(file.to_string_lossy().as_bytes());
        // A file that cannot be read is one that the build cannot use either.
        digest.update(std::fs::read(file).unwrap_or_default());
    }
    for feature in std::env::vars().filter(|(name, _)| name.starts_with("CARGO_FEATURE_")) {
        digest.update(feature.0.as_bytes());
    }
    let name: String = digest.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
    println!("cargo::rustc-env=RIPWRIGHT_BUILD={name}");
}

fn gather(place: &Path, files: &mut Vec<PathBuf>) {
    match std::fs::read_dir(place) {
        Ok(entries) => entries.flatten().for_each(|entry| gather(&entry.path(), files)),
        Err(_) => files.push(place.to_path_buf()),
    }
}
