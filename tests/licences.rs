//! Every package that is built in has a licence that goes with MIT. `cargo deny` says the same where it is
//! installed (`.deny.toml`); this needs nothing but cargo.

use std::process::Command;

/// Permissive licences: a binary may be passed on with their notices.
const ALLOWED: [&str; 11] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Zlib",
];

/// Is a choice of a licence expression allowed? Only the forms that crates use: choices within AND.
fn is_allowed(expression: &str) -> bool {
    expression.split(" AND ").all(|all| {
        let choices = all.trim_matches(['(', ')']).split(" OR ").flat_map(|choice| choice.split('/'));
        choices.map(str::trim).any(|choice| ALLOWED.contains(&choice))
    })
}

#[test]
fn every_package_may_be_passed_on() {
    let version = Command::new("rustc").arg("-vV").output().unwrap();
    let version = String::from_utf8(version.stdout).unwrap();
    let host = version.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--locked", "--offline", "--filter-platform", host])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let packages = metadata["packages"].as_array().unwrap();
    assert!(packages.len() > 20);
    for package in packages {
        let licence = package["license"].as_str().unwrap_or("");
        assert!(is_allowed(licence), "{} is under \"{licence}\"", package["name"]);
    }
}

#[test]
fn licences_that_bind_what_is_linked_are_refused() {
    for (expression, allowed) in [
        ("MIT", true),
        ("Apache-2.0 / MIT", true),
        ("(MIT OR Apache-2.0) AND Unicode-3.0", true),
        ("GPL-3.0-only", false),
        ("(MIT OR Apache-2.0) AND GPL-2.0", false),
        ("", false),
    ] {
        assert_eq!(is_allowed(expression), allowed, "{expression}");
    }
}
