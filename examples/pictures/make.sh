#!/bin/sh
# Makes the pictures that the README shows. From the project's folder, with chromium installed: sh examples/pictures/make.sh
set -eu
work=$(mktemp -d)
run() { cargo run --quiet -- "$@"; }
run run examples/jobs/heron-van.yaml --answers examples/answers/heron-van.yaml --journal "$work/journal" >/dev/null
run card examples/jobs/heron-van.yaml --format html >"$work/card.html"
run report "$work/journal" --format html >"$work/record.html"
shoot() {
    chromium --headless --no-sandbox --hide-scrollbars --window-size="$2" \
        --screenshot="examples/pictures/$1.png" "file://$work/$1.html" 2>/dev/null
}
shoot card 660,1120
shoot record 780,1100
rm -r "$work"
