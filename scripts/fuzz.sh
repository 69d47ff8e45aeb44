#!/usr/bin/env bash
# Fuzzes one reader for some seconds, from the demo as its seed.
# Usage: scripts/fuzz.sh job|book|plan|measures SECONDS
# Needs a nightly compiler and cargo-fuzz (cargo install cargo-fuzz).
set -euo pipefail
cd "$(dirname "$0")/.."
target=$1 seconds=$2
corpus=$(mktemp -d)
trap 'rm -rf "$corpus"' EXIT
for demo in datasets/furniture-inch datasets/furniture-metric; do
  name=$(basename "$demo")
  case $target in
    job)
      for file in parts orders prices/northbank shop suppliers breaks rack holes finish scenarios; do
        if [ "$file" = shop ]; then cat "$demo/shop.toml"; else cat "$demo/$file.csv"; fi
        printf '\0'
      done >"$corpus/$name" ;;
    book) cp "$demo/orders.csv" "$corpus/$name" ;;
    plan)
      cargo run --release --quiet -- plan "$demo" --out "$corpus/out" --gap 5 --quiet >/dev/null
      # A few boards are enough: long inputs make slow runs.
      python3 -c 'import json, sys; plan = json.load(open(sys.argv[1])); plan["boards"] = plan["boards"][:6]; json.dump(plan, open(sys.argv[2], "w"))' \
        "$corpus/out/plan.json" "$corpus/$name"
      rm -r "$corpus/out" ;;
    measures) printf '8'"'"' 6 1/2"' >"$corpus/$name" ;;
    *) echo "no such target: $target" >&2; exit 2 ;;
  esac
done
# Built first, and then run by itself, so that a change of the sources meanwhile does not matter.
cargo +nightly fuzz build --fuzz-dir tests/fuzz "$target"
executable=$(find "${CARGO_TARGET_DIR:-tests/fuzz/target}" -path "*/release/$target" -type f -perm -u+x | head -1)
mkdir -p tests/fuzz/artifacts/"$target"
"$executable" "$corpus" -artifact_prefix="tests/fuzz/artifacts/$target/" \
  -max_total_time="$seconds" -max_len=65536 -print_final_stats=1
