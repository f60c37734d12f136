#!/bin/sh
# Holds licences, sources, doubled versions and advisories of all dependencies against deny.toml, and says how long it took.
# Needs cargo-deny (`cargo install cargo-deny`); advisories are fetched anew each time. `sh tests/deny.sh licenses bans sources`
# does without them, and without a network.
set -eu
cd "$(dirname "$0")/.."
begun=$(date +%s)
cargo deny --all-features check "$@"
echo "took $(($(date +%s) - begun)) s"
