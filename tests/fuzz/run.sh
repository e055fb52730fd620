#!/usr/bin/env bash
# Sends `serve` every request its description allows, and many that it does not: no response may be a server error.
# Usage: tests/fuzz/run.sh [seconds]; needs a release build and a Python environment it makes in the target folder.
set -euo pipefail
cd "$(dirname "$0")/../.."
seconds="${1:-60}"
root="$PWD"
target="$(realpath -m "${CARGO_TARGET_DIR:-target}")"
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
# It ends by itself when its time is spent, and with a code of its own when it found something.
# Whoever does not end long after that hangs, which is a failure.
code=0
cd "$scratch" # what it remembers of its failures goes with the rest
timeout "$((seconds + 180))" "$target/fuzz-venv/bin/schemathesis" --config-file "$root/tests/fuzz/schemathesis.toml" \
    run "${address}api/openapi.json" --max-time "$seconds" --seed "${2:-1}" \
    --report junit --report-junit-path "$scratch/report.xml" || code=$?
kill -0 "$server" || { echo "the server is gone"; exit 1; }
[ "$code" -ne 124 ] || echo "it did not end"
[ "$code" -eq 0 ] || exit "$code"
grep -q '<testcase' "$scratch/report.xml" || { echo "no request was sent"; exit 1; }
echo "no server error"
