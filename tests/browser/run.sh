#!/usr/bin/env bash
# Drives the page in a headless browser against a release build. Installs Chromium and the node packages where missing.
# Usage: tests/browser/run.sh [page | desk | numbers | letter | steps | moves]; all tests without a word, `moves` measures.
set -euo pipefail
cd "$(dirname "$0")"
root="$(cd ../.. && pwd)"
program="${CARGO_TARGET_DIR:-$root/target}/release/ferrowane"
[ -x "$program" ] || { echo "build first: cargo build --release"; exit 1; }
sudo=(); [ "$(id -u)" -eq 0 ] || sudo=(sudo)
need=()
[ -x /usr/bin/chromium ] || need+=(chromium fonts-dejavu-core)
command -v npm >/dev/null || need+=(nodejs npm)
if [ "${#need[@]}" -gt 0 ]; then
    "${sudo[@]}" apt-get update -qq
    "${sudo[@]}" apt-get install -y -qq --no-install-recommends "${need[@]}"
fi
npm ci --silent --no-audit --no-fund
[ $# -gt 0 ] || set -- page desk numbers letter steps
for script in "$@"; do
    timeout 600 node "$script.mjs" "$program" "$root/demo/cases/street_daily.toml"
done
