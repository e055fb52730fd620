#!/usr/bin/env bash
# The work list of an invented workshop of many cars, without and with costs: wall and processor seconds.
# Usage: benches/worklist/run.sh [cars]; needs python3.
set -euo pipefail
cd "$(dirname "$0")/../.."
cargo build --release --quiet
program="${CARGO_TARGET_DIR:-target}/release/ferrowane"
folder="$(mktemp -d)"
trap 'rm -rf "$folder"' EXIT
python3 benches/worklist/workshop.py demo/cases "$folder/tables" "${1:-1000}"
"$program" record --file "$folder/shop.db" import "$folder/tables"
TIMEFORMAT="%R s wall, %U s of processors"
for costs in "" "--costs demo/costs.toml"; do
  echo "due $costs"
  # a day of its own, so that the list is the same whenever it is made; $costs is two words or none
  # shellcheck disable=SC2086
  time "$program" due --record "$folder/shop.db" --as-of 2026-11-01 --by 2027-03 $costs --format json >"$folder/due.json"
done
