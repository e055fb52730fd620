#!/usr/bin/env bash
# Measures the block kernel and the same model in numpy on the same histories, in one run on one machine.
set -euo pipefail
cd "$(dirname "$0")/../.."
directory="${CARGO_TARGET_DIR:-target}/peers"
mkdir -p "$directory"
directory="$(cd "$directory" && pwd)"
if [ ! -x "$directory/venv/bin/python" ]; then
    python3 -m venv "$directory/venv"
fi
"$directory/venv/bin/pip" install --quiet --disable-pip-version-check -r benches/peers/requirements.txt
PEER_DIR="$directory" cargo bench --quiet --bench kernel
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 MKL_NUM_THREADS=1
"$directory/venv/bin/python" benches/peers/forecast_numpy.py "$directory"
