#!/usr/bin/env bash
# 64 clients that move the controls of a case for a minute: errors, times to answer, memory.
# Usage: benches/load/run.sh [seconds] [clients] [seconds of reading an answer]; needs python3 and a release build.
set -euo pipefail
cd "$(dirname "$0")/../.."
cargo build --release --quiet
program="${CARGO_TARGET_DIR:-target}/release/ferrowane"
address="$(mktemp)"
"$program" serve --port 0 >"$address" &
server=$!
trap 'kill "$server" 2>/dev/null; rm -f "$address"' EXIT
until [ -s "$address" ]; do sleep 0.1; done
python3 benches/load/clients.py "$(sed 's/.* on //' "$address")" "$server" "${1:-60}" "${2:-64}" "${3:-2}"
