#!/bin/sh
# Breaks rules on purpose, one at a time, and says which breaks no test notices.
#
#     sh tests/mutants.sh [CRATE...]              the crates that judge, if none is named
#     SHARD=3/40 sh tests/mutants.sh job          another sample: every fortieth change, from the fourth on
#     SHARD=0/1 sh tests/mutants.sh quantity      every change
#
# Needs cargo-mutants (`cargo install cargo-mutants`). The same shard of the same source is the same sample. Works on a copy of the
# sources; what came of each change lies in target/mutants/CRATE/mutants.out. A change that does not compile is not counted; one
# that makes a test hang is noticed.
set -eu
cd "$(dirname "$0")/.."
shard=${SHARD:-0/40}
[ $# -gt 0 ] || set -- job audit log stream quantity

count() {
    if [ -f "$1" ]; then grep -c . "$1" || true; else echo 0; fi
}

for crate in "$@"; do
    # The tests that hold its rules, of whatever package: those of the program are picked by the names of their files.
    case $crate in
        job) tests="--lib --test machine --test headless" ;;
        audit) tests="--lib --test program -- audit:: book:: tests::" ;;
        log) tests="--lib --test program --test known-logs -- logs:: tests:: nothing_bad" ;;
        stream) tests="--lib --test program -- reader:: tests::" ;;
        quantity) tests="--lib --test quantities" ;;
        *) tests="--lib" ;;
    esac
    out=target/mutants/$crate
    mkdir -p "$out"
    # What cargo-mutants answers when it misses a change is no failure of this script.
    CARGO_TARGET_DIR="$PWD/target/mutants/target" cargo mutants --package "standpipe-$crate" --test-workspace true \
        --shard "$shard" --sharding round-robin --output "$out" --no-shuffle --colors never -- $tests || true
    found=$out/mutants.out
    missed=$(count "$found/missed.txt")
    noticed=$(($(count "$found/caught.txt") + $(count "$found/timeout.txt")))
    all=$((missed + noticed))
    [ "$all" -gt 0 ] || { echo "$crate: nothing was tried"; continue; }
    echo "$crate, shard $shard: $noticed of $all noticed ($((100 * noticed / all)) %), $(count "$found/unviable.txt") did not compile"
    [ "$missed" -eq 0 ] || sed 's/^/  not noticed: /' "$found/missed.txt"
done
