#!/usr/bin/env bash
# Makes an invented chain of five shops with simulated jobs, each stamped as one: FOLDER/ID/shop.yaml and FOLDER/ID/jobs.
# In dock-road the reader shows 4 K too much, in mill-lane numbers are made to fit, harbour-street has too little time.
# `STANDPIPE` names the program, if it is not on the path.
set -euo pipefail
if [ $# -ne 2 ]; then
  echo "usage: $0 FOLDER JOBS-PER-SHOP" >&2
  exit 2
fi
program=${STANDPIPE:-standpipe}
like=$(cd "$(dirname "$0")/../.." && pwd)/plugins/pan-bench/cases/shop.yaml
shop() { # ID SEED ARGUMENTS...
  local id=$1 seed=$2 half=$((jobs / 2))
  shift 2
  mkdir -p "$folder/$id"
  sed "s/^shop: .*/shop: $id/; s/^title: .*/title: An invented shop, $id/" "$like" > "$folder/$id/shop.yaml"
  for family in heron plover; do
    "$program" simulate pan-service-overflow --family "$family" --shop "$folder/$id/shop.yaml" --unpaired --seed "$seed" \
      --runs "0..$half" --keep "$half" --into "$folder/$id/jobs/$family" "$@" > /dev/null 2> "$folder/$id/$family.log"
  done
  echo "$id: $(find "$folder/$id/jobs" -name journal.jsonl | wc -l) jobs"
}
folder=$1 jobs=$2
# Two at a time: each is a program of its own.
shop north-quay 1 & shop dock-road 2 --fault reader-off & wait
shop mill-lane 3 --people inventive & shop harbour-street 4 --people hurried & wait
shop ferry-street 5
