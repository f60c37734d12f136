#!/usr/bin/env bash
# Runs every job of the example workshop from its answers, each into a folder of its own below the one named.
# Some stop on the way, as they should: those say so here. `STANDPIPE` names the program, if it is not on the path.
set -euo pipefail
if [ $# -ne 1 ]; then
  echo "usage: $0 FOLDER" >&2
  exit 2
fi
program=${STANDPIPE:-standpipe}
here=$(cd "$(dirname "$0")" && pwd)
for answers in "$here"/answers/*.yaml; do
  name=$(basename "$answers" .yaml)
  code=0
  "$program" run "$here/jobs/$name.yaml" --answers "$answers" --journal "$1/$name" > /dev/null || code=$?
  # 1: it ran, and stands at something that is not met. Anything else has no place here.
  case $code in
    0) echo "$name: closed" ;;
    1) echo "$name: stopped" ;;
    *) echo "$name: exit code $code" >&2; exit "$code" ;;
  esac
done
