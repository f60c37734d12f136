#!/usr/bin/env python3
"""One table of viscosities at temperatures, by `standpipe calc --table` and by Python with a general units library, in one run.

    pip install pint
    cargo build --release
    python3 tests/bench/side_by_side.py [--rows 1000000] [--minutes 10] [--program target/release/standpipe]

Counted is the whole process of the one, from start to the last line written, and of the other only the loop over rows; both
read and write files. The units library gets as many rows as it gets through in the minutes given, and its time is then that
of each row times all rows; the output says so. Both have to come to the same numbers.
"""

import argparse
import csv
import os
import subprocess
import tempfile
import time
from pathlib import Path

import with_units_library as library

ROOT = Path(__file__).resolve().parents[2]


def by_program(program, table, out, cores):
    """Seconds, on so many cores where the system lets them be chosen."""
    own = getattr(os, "sched_getaffinity", lambda _: None)(0)
    if own and cores < len(own):
        os.sched_setaffinity(0, sorted(own)[:cores])
    try:
        with open(out, "wb") as to:
            start = time.perf_counter()
            subprocess.run([program, "calc", "viscosity-at-temperature", "--table", table], stdout=to, check=True)
            return time.perf_counter() - start
    finally:
        if own:
            os.sched_setaffinity(0, own)


def by_library(table, out, most):
    """Seconds and rows; ends when the time is over."""
    with open(table, newline="") as given, open(out, "w", newline="") as to:
        start = time.perf_counter()
        done = 0
        for done in library.calculated(given, to):
            if done % 1000 == 0 and time.perf_counter() - start > most:
                break
        return time.perf_counter() - start, done


def compared(ours, theirs):
    """The largest relative difference between the two."""
    largest = 0.0
    with open(ours, newline="") as ours, open(theirs, newline="") as theirs:
        ours, theirs = csv.DictReader(ours), csv.DictReader(theirs)
        for row, (own, other) in enumerate(zip(ours, theirs), 1):
            a, b = (float(one["viscosity [mm2/s]"]) for one in (own, other))
            largest = max(largest, abs(a - b) / b)
            assert largest < 1e-9, f"row {row}: {a} and {b}"
    return largest


def main():
    asked = argparse.ArgumentParser(description="A table by the program and by Python with a units library.")
    asked.add_argument("--rows", type=int, default=1_000_000)
    asked.add_argument("--minutes", type=float, default=10)
    asked.add_argument("--program", default=ROOT / "target" / "release" / "standpipe")
    asked = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        table, ours, theirs = (os.path.join(folder, name) for name in ("table.csv", "ours.csv", "theirs.csv"))
        with open(table, "w") as out:
            library.rows(asked.rows, out)
        cores = os.cpu_count() or 1
        one = by_program(asked.program, table, ours, 1)
        print(f"standpipe, one core      {one:10.2f} s for {asked.rows} rows, {one / asked.rows * 1e6:8.3f} us each", flush=True)
        if cores > 1:
            many = by_program(asked.program, table, ours, cores)
            print(f"standpipe, {cores} cores       {many:10.2f} s, {one / many:.2f} times as fast", flush=True)
        seconds, done = by_library(table, theirs, asked.minutes * 60)
        each = seconds / done
        print(f"units library, one core  {seconds:10.2f} s for {done} rows, {each * 1e6:8.1f} us each")
        if done < asked.rows:
            print(f"  the time was over: all {asked.rows} rows would take {each * asked.rows:.0f} s at the same pace")
        print(f"  {each * asked.rows / one:.0f} times as long as standpipe on one core")
        if cores > 1:
            print(f"  {each * asked.rows / many:.0f} times as long as standpipe on {cores} cores")
        print(f"largest relative difference of the {done} results: {compared(ours, theirs):.1e}")


if __name__ == "__main__":
    main()
