#!/usr/bin/env bash
# The Python package: builds the wheel, installs it in an environment of its own, and tests it there against the program.
# Needs a Rust toolchain and python3 with venv; everything else is fetched into the target folder.
#
#   python/check.sh [arguments of pytest]
#   SPARK=1 python/check.sh      with PySpark on a cluster of two executors, which needs Java 17
set -euo pipefail
cd "$(dirname "$0")/.."

target="${CARGO_TARGET_DIR:-$PWD/target}"
venv="$target/python-venv"
wheels="$target/wheels"

[ -x "$venv/bin/pip" ] || python3 -m venv "$venv"
"$venv/bin/pip" install --quiet --disable-pip-version-check -r python/tests/requirements.txt
[ -z "${SPARK:-}" ] || "$venv/bin/pip" install --quiet --disable-pip-version-check "pyspark>=4"

cargo build --bin ferrowane
rm -rf "$wheels"
"$venv/bin/maturin" build --locked --manifest-path python/Cargo.toml --out "$wheels"
"$venv/bin/pip" install --quiet --disable-pip-version-check --force-reinstall --no-deps "$wheels"/ferrowane-*.whl
ls -l "$wheels"

FERROWANE="$target/debug/ferrowane" "$venv/bin/python" -m pytest python/tests "$@"
