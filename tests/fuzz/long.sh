#!/bin/sh
# A long round of one fuzzer, on stable Rust: sh tests/fuzz/long.sh TARGET SECONDS [more of libFuzzer's options]
# The compiler's own coverage pass is asked for by name; it and libFuzzer (a C++ compiler is needed) guide each other. What is found
# lies under target/fuzz/found/TARGET, what reached something new under target/fuzz/corpus/TARGET. A finding is kept by copying
# it to tests/fuzz/corpus/TARGET under a name that says what it was.
# `keep` instead of SECONDS: the corpus as small as it gets without reaching less, to look at and copy from.
set -eu
cd "$(dirname "$0")/../.."
target=$1
seconds=$2
shift 2
pass="-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 -Cllvm-args=-sanitizer-coverage-inline-8bit-counters \
-Cllvm-args=-sanitizer-coverage-pc-table -Cllvm-args=-sanitizer-coverage-trace-compares -Ccodegen-units=1"
# The same versions of everything as the program has.
cp Cargo.lock tests/fuzz/guided/Cargo.lock
host=$(rustc -vV | sed -n 's/^host: //p')
RUSTFLAGS="$pass" cargo build --release --quiet --manifest-path tests/fuzz/guided/Cargo.toml --target "$host" \
    --target-dir target/fuzz/build
corpus=target/fuzz/corpus/$target
found=target/fuzz/found/$target
mkdir -p "$corpus" "$found"
case $target in
documents) more="plugins examples/workshop examples/jobs examples/answers" longest=4096 ;;
logs) more="tests/logs examples/logs" longest=4096 ;;
tables) more="plugins" longest=4096 ;;
answers | requests | scripts) more="" longest=1500 ;;
*) more="" longest=400 ;;
esac
run() {
    # Two seconds and 256 MiB are what an input may take.
    STANDPIPE_TARGET=$target target/fuzz/build/"$host"/release/guided -timeout=2 -rss_limit_mb=256 "$@"
}
if [ "$seconds" = keep ]; then
    rm -rf target/fuzz/kept/"$target"
    mkdir -p target/fuzz/kept/"$target"
    run -merge=1 -rss_limit_mb=1024 "$@" target/fuzz/kept/"$target" "$corpus" "tests/fuzz/corpus/$target"
else
    # shellcheck disable=SC2086 # the folders are several words
    run -max_total_time="$seconds" -max_len=$longest -artifact_prefix="$found/" -print_final_stats=1 "$@" \
        "$corpus" "tests/fuzz/corpus/$target" $more
fi
