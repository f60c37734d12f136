#!/usr/bin/env bash
# What the workshop's data must pass before they go to the bay; ends with an exit code other than 0 where they don't.
# Runs wherever there is a shell: by hand, before a commit, on a build server. `STANDPIPE` names the program.
set -euo pipefail
cd "$(dirname "$0")"
program=${STANDPIPE:-standpipe}
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT

echo "== everything is well formed and fits together"
"$program" check . --strict

echo "== the worked examples of our own plugins come out"
"$program" test workshop --strict

echo "== two other trades, by the same program"
for trade in hydraulic-brakes home-brewing; do
  "$program" test "other-trades/$trade" --strict
done

echo "== a calculation of our own, for a list of drums"
"$program" calc drum-room --plugins workshop/ferry-lane --table drums.csv > "$folder/drums.csv"
cat "$folder/drums.csv"

echo "== on invented units the procedure claims what is true: at most 4 jobs in 100 otherwise"
"$program" simulate pan-service-overflow --family heron --jobs 160 --unpaired --at-most "any 4 in 100" > "$folder/simulated.txt"
grep "^Claimed shown" "$folder/simulated.txt"

echo "== every job runs from its answers as far as it should"
bash fleet.sh "$folder/jobs" | diff fleet.txt -
