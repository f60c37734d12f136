"""Audits the same list on this machine: by one process, or by some through xargs; RESULTS comes to the same bytes as a cluster's.

    audit_here.py LIST RESULTS [--processes N]

`STANDPIPE` names the program, if it is not on the path.
"""

import argparse
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import time

from audit_on_spark import whole, written

PART = 50


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("list", type=pathlib.Path)
    parser.add_argument("results")
    parser.add_argument("--processes", type=int, default=1)
    asked = parser.parse_args()
    program = os.environ.get("STANDPIPE", "standpipe")
    begun = time.monotonic()
    lines = asked.list.read_text().splitlines(keepends=True)
    if asked.processes == 1:
        audited = subprocess.run([program, "audit", "--files-from", str(asked.list)], stdout=subprocess.PIPE, text=True)
        answers = whole(audited.stdout.splitlines())
    else:
        with tempfile.TemporaryDirectory() as room:
            # xargs hands on the names of lists, which have no blanks, and never those of jobs.
            for number, at in enumerate(range(0, len(lines), PART)):
                pathlib.Path(room, f"{number:06}.list").write_text("".join(lines[at : at + PART]))
            one = f'"{program}" audit --files-from "$1" > "$1.out" || true'
            subprocess.run(
                ["xargs", f"-P{asked.processes}", "-n1", "sh", "-c", one, "sh"], check=True, text=True,
                input="\n".join(str(path) for path in sorted(pathlib.Path(room).glob("*.list"))),
            )
            answers = []
            for out in sorted(pathlib.Path(room).glob("*.out")):
                answers += whole(out.read_text().splitlines())
    count, hashed = written(answers, asked.results)
    print(json.dumps({"jobs": count, "sha256": hashed, "audit_s": round(time.monotonic() - begun, 1)}))
    return 0 if count == len(lines) else 1


if __name__ == "__main__":
    sys.exit(main())
