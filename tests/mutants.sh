#!/bin/sh
# Breaks rules on purpose, one at a time, and says which breaks no test notices.
#
#     sh tests/mutants.sh [CRATE...]              the crates that judge, if none is named
#     SHARD=3/40 sh tests/mutants.sh job          another sample: every fortieth change, from the fourth on
#     SHARD=0/1 sh tests/mutants.sh quantity      every change
#
# Needs cargo-mutants (`cargo install cargo-mutants`). The same shard of the same source is the same sample. Works on a copy of the
# sources in target/mutants/tree; what came of each change lies in target/mutants/CRATE. A change that does not compile is not
# counted; one that makes a test hang is noticed. How a value is written for people (`fmt`) holds no rule and is left out. A change
# that makes no difference to anybody is listed with its reason in tests/mutants-alike.txt, and counted apart.
set -eu
cd "$(dirname "$0")/.."
shard=${SHARD:-0/40}
alike=$PWD/tests/mutants-alike.txt
results=$PWD/target/mutants
[ $# -gt 0 ] || set -- job audit log stream quantity

# Each change is built and tried by itself: without line tables, and only what it touches. Journals are synced to the disk line by
# line, which is most of the time of their tests; in memory that costs nothing.
export CARGO_TARGET_DIR="${CARGO_TARGET_DIR:-$results/target}"
export CARGO_PROFILE_DEV_DEBUG=0 CARGO_INCREMENTAL=1 RUST_BACKTRACE=0
if [ -w /dev/shm ]; then
    TMPDIR=$(mktemp -d /dev/shm/mutants.XXXXXX)
    export TMPDIR
    trap 'rm -rf "$TMPDIR"' EXIT
    trap 'exit 130' INT TERM
fi

# One copy for all, with its times: what was built of it once need not be built again.
rm -rf "$results/tree"
mkdir -p "$results/tree"
tar -cf - --exclude ./target --exclude ./.git . | tar -xf - -C "$results/tree"
cd "$results/tree"

# The tests that hold the rules of a crate, of whatever packages, the cheap ones first: only what they miss is tried by the others,
# which build the program for every change. The crates they stand in (`.`: the program), and what `cargo test` is told; tests of the
# program are picked by the names of their files.
stages() {
    case $1 in
        job) echo "job --test machine"; echo "job,drivers --lib --test headless"; echo ". --test program -- journals::" ;;
        audit) echo "audit --lib"; echo ". --test program -- audit:: book:: keys:: stamps:: pack::" ;;
        log) echo "log --lib --test known-logs"; echo ". --test program -- logs:: nothing_bad" ;;
        stream) echo "stream --lib"; echo ". --test program -- reader::" ;;
        quantity) echo "quantity --lib --test quantities" ;;
        *) echo "$1 --lib" ;;
    esac
}

count() {
    if [ -f "$1" ]; then grep -c . "$1" || true; else echo 0; fi
}

for crate in "$@"; do
    out=$results/$crate
    rm -rf "$out"
    mkdir -p "$out"
    stages "$crate" > "$out/stages"
    chosen="--shard $shard --sharding round-robin"
    echo "exclude_re = ['::fmt( |$)']" > "$out/chosen.toml"
    while read -r packages tests; do
        own= theirs=
        for name in $(echo "$packages" | tr ',' ' '); do
            name=$(echo "standpipe-$name" | sed 's/-\.$//')
            own="$own --package $name" theirs="$theirs --test-package $name"
        done
        # Where they fail without a change, nothing that is said of a change means anything. Tried here: cargo-mutants tries no
        # other package without a change than the one that it changes.
        nice -n 10 cargo test --quiet $own $tests < /dev/null
        answer=0
        nice -n 10 cargo mutants --package "standpipe-$crate" $theirs --config "$out/chosen.toml" $chosen --in-place \
            --baseline skip --timeout 600 --output "$out" --no-shuffle --colors never -- $tests < /dev/null || answer=$?
        case $answer in
            0 | 2 | 3) ;;
            *) echo "$crate: cargo-mutants ended with $answer; nothing is known" >&2; exit 1 ;;
        esac
        found=$out/mutants.out
        cat "$found/caught.txt" "$found/timeout.txt" > "$out/now.txt"
        if [ -f "$out/left.txt" ]; then
            # A field taken away from a struct is tried whatever was chosen (cargo-mutants 27.1): only what was left counts. What was
            # not tried stays left.
            grep -Fx -f "$out/now.txt" "$out/left.txt" >> "$out/noticed.txt" || true
            grep -Fxv -f "$out/now.txt" "$out/left.txt" > "$out/still.txt" || true
            mv "$out/still.txt" "$out/left.txt"
        else
            cp "$out/now.txt" "$out/noticed.txt"
            cp "$found/missed.txt" "$out/left.txt"
            cp "$found/unviable.txt" "$out/unviable.txt"
        fi
        [ -s "$out/left.txt" ] || break
        # The next tests try what these missed.
        chosen=$(cut -d: -f1 "$out/left.txt" | sort -u | sed 's/^/--file /' | tr '\n' ' ')
        {
            echo "examine_re = ["
            sed "s/[][\\.*^\$()+?{}|]/\\\\&/g; s/.*/'''^&\$''',/" "$out/left.txt"
            echo "]"
        } > "$out/chosen.toml"
    done < "$out/stages"
    # Known by file and change, since lines move.
    sed 's/:[0-9]*:[0-9]*:/:/' "$out/left.txt" | grep -Fxv -f "$alike" > "$out/unnoticed.txt" || true
    missed=$(count "$out/unnoticed.txt")
    noticed=$(count "$out/noticed.txt")
    all=$((missed + noticed))
    [ "$all" -gt 0 ] || { echo "$crate: nothing was tried"; continue; }
    echo "$crate, shard $shard: $noticed of $all noticed ($((100 * noticed / all)) %)," \
        "$(($(count "$out/left.txt") - missed)) alike, $(count "$out/unviable.txt") did not compile"
    [ "$missed" -eq 0 ] || sed 's/^/  not noticed: /' "$out/unnoticed.txt"
done
