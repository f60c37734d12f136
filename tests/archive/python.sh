#!/bin/sh
# Makes an environment of Python with the readers that archives are held against: pandas, pyarrow and DuckDB.
set -eu
cd "$(dirname "$0")/../.."
python=target/python/bin/python
[ -x "$python" ] || python3 -m venv target/python
"$python" -m pip install --quiet --disable-pip-version-check --requirement tests/archive/requirements.txt
