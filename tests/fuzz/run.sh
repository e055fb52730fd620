#!/usr/bin/env bash
# Asks `serve` everything its description allows, and much that it does not: no answer may be a server error.
# Usage: tests/fuzz/run.sh [seconds]; needs a release build and a Python environment it makes in the target folder.
set -euo pipefail
cd "$(dirname "$0")/../.."
target="${CARGO_TARGET_DIR:-target}"
program="$target/release/ferrowane"
[ -x "$target/fuzz-venv/bin/schemathesis" ] || {
    python3 -m venv "$target/fuzz-venv"
    "$target/fuzz-venv/bin/pip" install --quiet --disable-pip-version-check -r tests/fuzz/requirements.txt
}
scratch="$(mktemp -d)"
"$program" record --file "$scratch/shop.db" car add --ref A-1 --case demo/cases/street_daily.toml
"$program" serve --port 0 --record "$scratch/shop.db" >"$scratch/address" &
server=$!
trap 'kill "$server" 2>/dev/null; rm -rf "$scratch"' EXIT
until [ -s "$scratch/address" ]; do sleep 0.1; done
address="$(sed 's/.* on //' "$scratch/address")"
# stopped after its time, which is no failure; a failure found before is
code=0
timeout --signal=INT "${1:-60}" "$target/fuzz-venv/bin/schemathesis" run "${address}api/openapi.json" \
    --checks not_a_server_error --max-examples 20 --seed 1 --request-timeout 60 \
    --workers 2 || code=$?
kill -0 "$server" || { echo "the server is gone"; exit 1; }
case "$code" in
    0 | 124 | 130) echo "no server error" ;;
    *) exit "$code" ;;
esac
