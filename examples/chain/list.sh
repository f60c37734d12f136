#!/usr/bin/env bash
# Lists the jobs below a folder as lines for `standpipe audit --files-from`: the key is where a job lies below that folder.
set -euo pipefail
if [ $# -ne 1 ]; then
  echo "usage: $0 FOLDER" >&2
  exit 2
fi
cd "$1"
here=$(pwd)
# Names of folders with a quote or a backslash would need more than this.
find . -name journal.jsonl -printf '%h\n' | sort | sed "s|^\./\(.*\)|{\"key\": \"\1\", \"folder\": \"$here/\1\"}|"
