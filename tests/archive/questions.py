"""Asks the questions of examples/chain of archives whose truth is known, made here from numbers drawn at random.

    questions.py [--spark]

In one archive something is put in for each question to find, and beside it what must not be taken for it: an instrument that is off
by less than its accuracy, one that only one family is read with, one that is only set. In twenty more nothing is: each question may
then raise an alarm in one of twenty. With --spark both engines have to come to the same rows.
"""

import json
import pathlib
import random
import sys
import tempfile

import pyarrow
import pyarrow.parquet

sys.path.insert(0, str(pathlib.Path(__file__).parents[2] / "examples/chain"))
import ask  # noqa: E402

SHOPS = ["north", "east", "south", "west"]
EMPTY = 20


class Made:
    """Rows of the columns that questions ask for."""

    def __init__(self, seed, put_in):
        self.random = random.Random(seed)
        self.put_in = put_in
        self.rows = {shop: {table: [] for table in ask.TABLES} for shop in SHOPS}
        for number, shop in enumerate(SHOPS):
            for job in range(120):
                self.job(shop, number, job)

    def job(self, shop, number, job):
        draw, put_in = self.random, self.put_in
        key = f"{shop}-{job}"
        # What only one shop works on is no reason to think that its instruments are off.
        family = "lone" if shop == "east" and job % 3 == 0 else ["one", "two"][job % 2]
        version = ["1.0.0", "2.0.0"][job >= 60]
        day = 20000 + 2 * job
        rows = self.rows[shop]
        back = draw.random() < (0.5 if put_in and job % 4 == 0 else 0.1)
        subject = f"{shop}-{job}"
        rows["jobs"].append(dict(
            job_key=key, simulated=False, family=family, variant=None, procedure="service", version=version,
            begun=day * 86_400_000_000, begun_day=day, subject=subject,
        ))
        if back:
            rows["jobs"].append(dict(rows["jobs"][-1], job_key=key + "-again", begun=(day + 20) * 86_400_000_000, begun_day=day + 20))
        person = f"{shop}-{job % 6}"
        seq = 0

        def entry(section, took):
            nonlocal seq
            seq += 1
            rows["entries"].append(dict(
                job_key=key, simulated=False, seq=seq, person=person, event="entered", section=section, took=took,
            ))

        def reading(name, instrument, value, accuracy, digits=1):
            entry("work", draw.gauss(60, 15))
            written = round(value, digits)
            if put_in and person == "south-1" and draw.random() < 0.5:
                written = round(value * 2) / 2
            rows["readings"].append(dict(
                job_key=key, simulated=False, seq=seq, name=name, instrument=instrument, accuracy=accuracy, round=None, item=None,
                counts=True, quantity="temperature", si=value, written=written, unit="degC", decimals=digits, taken_from=None,
            ))

        warm = 90 if family == "lone" else 40
        off = {"north": 3.0, "west": 0.4}.get(shop, 0.0) if put_in else 0.0
        for name in ("arrived", "drained", "closed"):
            reading(name, "reader", draw.gauss(warm, 2) + off, 1.0)
        reading("dial", "wrench", 12.3, 0.48)
        entry("slow" if job % 2 else "quick", draw.gauss(600 if put_in and version == "2.0.0" else 400, 60))
        for step, chance in (("stops", 0.2), ("idle", 0.0)):
            for _ in range(5):
                stopped = draw.random() < chance
                verdict = "not met" if stopped else "met"
                rows["verdicts"].append(dict(
                    job_key=key, simulated=False, seq=(seq := seq + 1), step=step, verdict=verdict, standing=not stopped,
                    accepted=False,
                ))
        rows["verdicts"].append(dict(
            job_key=key, simulated=False, seq=seq + 1, step="last", verdict="not met" if job % 4 == 0 else "met", standing=True,
            accepted=job % 4 == 0,
        ))
        more = 0.0006 if put_in and family == "two" else 0.0
        for name, value, input in (("service.low", 0.004, True), ("service.high", 0.005, True), ("net_fill", draw.gauss(0.00485 + more, 0.0003), False)):
            rows["computed"].append(dict(job_key=key, simulated=False, seq=seq + 2, name=name, input=input, si=value))
        rows["looked_at"].append(dict(job_key=key, simulated=False, seq=seq + 2))

    def write(self, archive):
        batches = []
        for shop, tables in self.rows.items():
            batches.append({"shop": shop, "month": "2026-01", "name": "made"})
            for table, rows in tables.items():
                folder = archive / table / f"shop={shop}" / "month=2026-01"
                folder.mkdir(parents=True)
                kinds = {"variant": pyarrow.string(), "taken_from": pyarrow.string(), "item": pyarrow.string(), "round": pyarrow.int64()}
                columns = {name: pyarrow.array([row[name] for row in rows], kinds.get(name)) for name in rows[0]}
                pyarrow.parquet.write_table(pyarrow.table(columns), folder / "made.parquet")
        (archive / "archive.json").write_text(json.dumps({"batches": batches}))


def answers(archive, engine):
    """Of each question what its rows are about, with the verdict."""
    asked = engine(archive, "false")
    found = {}
    for path in sorted(ask.QUESTIONS.glob("*.sql")):
        columns, rows = ask.ask(asked, path.stem)
        found[path.stem] = [dict(zip(columns, row)) for row in rows]
    return found


def said(rows, *about):
    return {" ".join(str(row[name]) for name in about): row["verdict"] for row in rows}


ALARMS = {"reads high", "reads low", "rounder than the others", "needs more", "needs less", "slower than another", "more than another"}


def alarms(found):
    """Questions in which anything is said to be so."""
    return {question for question, rows in found.items() if any(row["verdict"] in ALARMS for row in rows)}


def expect(what, found, wanted):
    wrong = {key: found.get(key) for key, verdict in wanted.items() if found.get(key) != verdict}
    if wrong:
        sys.exit(f"{what}: expected {wanted}, found {found}")


def main(spark):
    with tempfile.TemporaryDirectory() as room:
        archive = pathlib.Path(room, "put-in")
        archive.mkdir()
        Made(1, put_in=True).write(archive)
        found = answers(archive, ask.DuckDb)
        expect("instruments", said(found["wrench-high"], "shop", "instrument"), {
            "north reader": "reads high", "east reader": "within its accuracy", "west reader": "within its accuracy",
            "north wrench": "set, not read: not shown",
        })
        round_ones = [key for key, verdict in said(found["too-round"], "person").items() if verdict != "not shown"]
        if round_ones != ["south-1"]:
            sys.exit(f"too round: {found['too-round']}")
        expect("litres", said(found["litres"], "family"), {"one": "as its data say", "two": "needs more"})
        expect("gates", said(found["idle-gates"], "step", "version"), {
            "stops 1.0.0": "stops", "idle 1.0.0": "stops less than 1 in 100", "idle 2.0.0": "stops less than 1 in 100",
        })
        expect("time", said(found["section-time"], "section", "version"), {
            "slow 2.0.0": "slower than another", "slow 1.0.0": "quicker than another", "work 2.0.0": "not shown",
        })
        expect("comebacks", said(found["comebacks"], "gates"), {
            "something accepted": "more than another", "all met": "less than another",
        })
        print("what was put in is found, and what was not is not")
        if spark:
            other = answers(archive, ask.Spark)
            for question, rows in found.items():
                one, two = ([tuple(row.values()) for row in answer] for answer in (rows, other[question]))
                if not ask.same(one, two):
                    sys.exit(f"{question}: the engines differ\n{one}\n{two}")
            print(f"both engines alike in {len(found)} questions")
        raised = {question: 0 for question in found}
        for seed in range(EMPTY):
            archive = pathlib.Path(room, f"empty-{seed}")
            archive.mkdir()
            Made(100 + seed, put_in=False).write(archive)
            for question in alarms(answers(archive, ask.DuckDb)):
                raised[question] += 1
        print(f"alarms in {EMPTY} archives with nothing in them: {raised}")
        # One in twenty is what an interval may err: four or more of twenty would be so once in 63 at that rate.
        if max(raised.values()) >= 4:
            sys.exit("that is more than an interval of 95 % allows")


if __name__ == "__main__":
    main("--spark" in sys.argv[1:])
