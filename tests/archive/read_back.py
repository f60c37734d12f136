"""Reads an archive with other people's readers, and holds every value against the journals that it was made of.

What a journal says is worked out here anew, from its lines of JSON alone: flattened values, places, times, keyed hashes.
    read_back.py ARCHIVE SCHEMA KEY-FILE JOBS...            every value, of an archive with words
    read_back.py --hidden ARCHIVE SCHEMA KEY-FILE JOBS...   nobody's name or words, of one without

Prints how much was compared; ends with 1 and the first differences.
"""

import hashlib
import hmac
import json
import pathlib
import re
import sys
from collections import Counter
from datetime import datetime, timezone

import duckdb
import pandas
import pyarrow.dataset

TABLES = ["jobs", "entries", "readings", "verdicts", "looked_at", "computed"]
VALUE = ["kind", "truth", "si", "quantity", "dimension", "point", "unit", "written", "decimals", "text"]
PLACE = ["step", "rounds", "round", "item"]
COMPARED = {
    "jobs": ["job_key", "shop", "month", "first_line", "head", "seal", "plan", "job", "simulated", "begun", "events", "offset_min"],
    "entries": ["job_key", "seq", *PLACE, "done_at", "entered_at", "person", "origin", "event", "done", "corrects", "witness", "words"],
    "readings": ["job_key", "seq", *PLACE, "name", "instrument", "taken_from", "corrects", *VALUE],
    "verdicts": ["job_key", "seq", *PLACE, "verdict", "likely", "again", "supersedes"],
    "looked_at": ["job_key", "seq", "name", *VALUE],
    "computed": ["job_key", "seq", *PLACE, "what", "gives", "sheet", "input", "name", "supersedes", *VALUE],
}
SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def micros(text):
    """Of RFC 3339, as microseconds of UTC."""
    return round(datetime.fromisoformat(text).astimezone(timezone.utc).timestamp() * 1_000_000)


def place(address):
    if not address:
        return (None, None, None, None)
    step, rounds, item = re.fullmatch(r"([^\[]+)(?:\[([\d.]*)\])?(?:\[(.*)\])?", address, re.S).groups()
    return (step, rounds or None, int(rounds.split(".")[-1]) if rounds else None, item or None)


def dimension(exponents):
    """As a person writes the coherent unit: `kg·m²/s²`."""
    named = [("kg", exponents[1]), ("m", exponents[0]), ("s", exponents[2]), ("K", exponents[3]), ("¤", exponents[4])]

    def side(sign):
        return "·".join(
            symbol + (str(power * sign).translate(SUPERSCRIPT) if power * sign > 1 else "")
            for symbol, power in named
            if power * sign > 0
        )

    above, below = side(1), side(-1)
    if not above and not below:
        return "1"
    several = sum(power < 0 for _, power in named) > 1
    return (above or "1") + (f"/({below})" if several else f"/{below}" if below else "")


def cells(**said):
    return tuple(said.get(name) for name in VALUE)


def quantity(kind, value):
    written = value.get("written") or {}
    return cells(
        kind=kind,
        si=float(value["si"]),
        quantity=value.get("of"),
        dimension=dimension(value.get("dimension", [0] * 5)),
        point=value.get("point", False),
        unit=written.get("unit"),
        written=float(written["value"]) if written else None,
        decimals=written.get("decimals"),
    )


def flat(name, value):
    """A value of a journal as rows: a name and the columns of a value."""
    if value == "unknown":
        yield name, cells(kind="unknown")
        return
    ((kind, inner),) = value.items()
    if kind == "truth":
        yield name, cells(kind="truth", truth=inner)
    elif kind == "number":
        yield name, cells(kind="number", si=float(inner))
    elif kind == "quantity":
        yield name, quantity("quantity", inner)
    elif kind == "range":
        yield name + ".low", quantity("low", inner[0])
        yield name + ".high", quantity("high", inner[1])
    elif kind == "text":
        yield name, cells(kind="text", text=inner)
    elif kind == "list":
        if not inner:
            yield name, cells(kind="empty list")
        for index, one in enumerate(inner):
            yield from flat(f"{name}.{index + 1}", one)
    elif kind == "record":
        if not inner:
            yield name, cells(kind="empty record")
        for key, one in inner.items():
            yield from flat(f"{name}.{key}", one)
    else:
        raise ValueError(f"a journal has a value of kind {kind}")


def opened(folder, text):
    """With the texts that are kept apart in the place of their tokens."""
    apart = folder / "apart.jsonl"
    if apart.exists():
        values = {line["token"]: line["value"] for line in map(json.loads, apart.read_text().splitlines())}
        text = re.sub(r"apart-[0-9a-f]{64}", lambda found: json.dumps(values.get(found[0], found[0]))[1:-1], text)
    return text


def plan_of(folder):
    return json.loads(opened(folder, (folder / "plan.json").read_text()))


def events_of(folder):
    return [json.loads(line) for line in opened(folder, (folder / "journal.jsonl").read_text()).splitlines()]


def shop_of(folder):
    plan = plan_of(folder)
    text = (plan.get("shop") or {}).get("text", "")
    named = re.search(r"^shop: *(\S+)", text, re.M)
    return (named.group(1) if named else ""), "simulated" in plan


def journal(folder, key):
    """The rows that an archive should have of one journal."""
    rows = {table: [] for table in TABLES}
    raw = (folder / "journal.jsonl").read_bytes()
    lines = raw.splitlines()
    first, head = (hashlib.sha256(line).hexdigest() for line in (lines[0], lines[-1]))
    job = first[:32]
    shop, simulated = shop_of(folder)
    events = events_of(folder)

    def person(id):
        return hmac.new(key, f"{shop}\0person\0{id}".encode(), hashlib.sha256).hexdigest()[:32] if id else None

    closed = events[-1]["event"] in ("finished", "abandoned")
    opened = events[0]
    at = datetime.fromisoformat(opened["at"])
    rows["jobs"].append((
        job, shop or "-", opened["at"][:7] if closed else "open", first, head,
        hashlib.sha256(raw).hexdigest() if closed else None, opened["plan"], opened["job"], simulated,
        micros(opened["at"]), len(events), int(at.utcoffset().total_seconds() / 60),
    ))
    for event in events:
        kind, seq = event["event"], event["seq"]
        where = place(event.get("address") or event.get("at_step"))
        witness = event.get("witness")
        words = None
        if kind in ("accepted", "skipped", "corrected", "amended", "abandoned"):
            words = event.get("because", "")
        elif kind in ("noted", "supplied"):
            words = event["text" if kind == "noted" else "source"]
        rows["entries"].append((
            job, seq, *where, micros(event["at"]), micros(event.get("entered_at", event["at"])), person(event["by"]),
            event["origin"], kind, event.get("done") if kind == "entered" else None,
            event.get("entry") if kind == "corrected" else None,
            "alone" if witness == "alone" else person(witness["by"]) if witness else None, words,
        ))

        def reading(name, value, instrument=None, source=None, corrects=None, where=where):
            for inner, columns in flat(name, value):
                rows["readings"].append((job, seq, *where, inner, instrument, source, corrects, *columns))

        def looked_at(found):
            for name, value in found.items():
                rows["looked_at"].extend((job, seq, inner, *columns) for inner, columns in flat(name, value))

        def computed(input, name, value):
            for inner, columns in flat(name, value):
                rows["computed"].append((
                    job, seq, *where, event["what"], event.get("gives"), event.get("sheet"), input, inner,
                    event.get("supersedes"), *columns,
                ))

        if kind == "entered":
            read = event.get("read") or {}
            for name, value in event.get("values", {}).items():
                source = ("log" if read.get("log") else "reader") if name in read.get("values", {}) else None
                reading(name, value, event.get("with", {}).get(name), source)
        elif kind == "corrected":
            for name, value in event["values"].items():
                reading(name, value, corrects=event["entry"], where=place(None))
        elif kind == "supplied":
            reading(event["path"], event["value"], where=place(None))
        elif kind == "stream" and "value" in event:
            reading(event["name"], event["value"], source="reader")
        elif kind == "recognised":
            looked_at(event["signs"])
        elif kind == "judged":
            rows["verdicts"].append((
                job, seq, *where, event["verdict"], event.get("likely"), event.get("again", False), event.get("supersedes"),
            ))
            looked_at(event.get("found", {}))
        elif kind == "settled":
            computed(False, event["what"], event["value"])
        elif kind == "computed":
            computed(False, event.get("gives") or event["what"], event["value"])
            for name, value in event.get("inputs", {}).items():
                computed(True, name, value)
    return rows, person


def plain(value):
    """One notation for what readers give: nothing is None, a time is microseconds of UTC."""
    if value is None or value is pandas.NaT or value is pandas.NA or (isinstance(value, float) and value != value):
        return None
    if isinstance(value, (pandas.Timestamp, datetime)):
        return round(pandas.Timestamp(value).timestamp() * 1_000_000)
    return value


def by_pandas(archive, batches, table):
    files = [str(path) for path in files_of(archive, batches, table)]
    return pyarrow.dataset.dataset(files, format="parquet", partitioning=None).to_table().to_pandas(types_mapper=pandas.ArrowDtype)


def by_duckdb(archive, batches, table):
    files = [str(path) for path in files_of(archive, batches, table)]
    query = "SELECT * FROM read_parquet($files, hive_partitioning = true, hive_types_autocast = false)"
    return duckdb.sql(query, params={"files": files}).to_arrow_table()


def files_of(archive, batches, table):
    for batch in batches:
        yield archive / table / f"shop={batch['shop'] or '-'}" / f"month={batch['month']}" / f"{batch['name']}.parquet"


def batches_of(archive):
    return json.loads((archive / "archive.json").read_text())["batches"]


def folders_below(jobs):
    return sorted({path.parent for root in jobs for path in root.rglob("journal.jsonl")})


def everything(archive, schema, key_file, jobs):
    key = bytes.fromhex(key_file.read_text().strip())
    batches = batches_of(archive)
    folders = folders_below(jobs)
    expected, person = {table: Counter() for table in TABLES}, {}
    for folder in folders:
        rows, named = journal(folder, key)
        person[rows["jobs"][0][0]] = named
        for table in TABLES:
            expected[table].update(rows[table])
    wrong = 0
    for table in TABLES:
        wanted = COMPARED[table]
        arrow = by_duckdb(archive, batches, table)
        wrong += as_described(schema, table, arrow)
        frame = by_pandas(archive, batches, table)
        own = [name for name in wanted if name not in ("shop", "month")]
        for reader, names, columns in (
            ("duckdb", wanted, [arrow.column(name).to_pylist() for name in wanted]),
            ("pandas", own, [list(frame[name]) for name in own]),
        ):
            found = Counter(tuple(plain(cell) for cell in row) for row in zip(*columns))
            keep = [wanted.index(name) for name in names]
            want = Counter()
            for row, count in expected[table].items():
                want[tuple(row[index] for index in keep)] += count
            wrong += compare(table, reader, names, want, found, person)
        print(f"{table}: {sum(expected[table].values())} rows")
    print(f"{len(folders)} journals, every row alike by pandas and DuckDB" if not wrong else f"{wrong} rows differ")
    return 1 if wrong else 0


KINDS = {"string": "string", "integer": "int64", "number": "double", "boolean": "bool"}


def as_described(schema, table, arrow):
    """How many columns are not as `standpipe schema archive` says."""
    described = schema["properties"][table]["items"]
    wrong = 0
    for name, column in described["properties"].items():
        kind = column["type"] if isinstance(column["type"], str) else column["type"][0]
        kind = "timestamp" if column.get("format") == "date-time" else KINDS[kind]
        field = arrow.schema.field(name) if name in arrow.schema.names else None
        empty = name in described["required"] and arrow.column(name).null_count > 0
        if field is None or not str(field.type).startswith(kind) or empty:
            print(f"{table}: {name} is {field}, and described as {column}")
            wrong += 1
    more = set(arrow.schema.names) - set(described["properties"])
    if more:
        print(f"{table}: {more} are not described")
    return wrong + len(more)


def hidden(archive, schema, key_file, jobs):
    """Looks for what people are called and what they wrote, in every text of every table."""
    people, words = set(), set()
    for folder in folders_below(jobs):
        plan = plan_of(folder)
        for id, name in re.findall(r"^  (\w+): \{ name: ([^,]+),", (plan.get("shop") or {}).get("text", ""), re.M):
            people |= {id, name}
        for key in ("plate", "description", "name", "reach", "words"):
            words |= {text.strip().strip('"') for text in re.findall(rf"^  {key}: (.+)$", plan["job"]["text"], re.M)}
        for event in events_of(folder):
            people.add(event["by"])
            if isinstance(event.get("witness"), dict):
                people.add(event["witness"]["by"])
            if event["event"] != "round-ended":
                words |= {event.get("because", ""), event.get("text", "")}
            values = event.get("values", {})
            for name in ("complaint", "customer_hears", "waste_place", "parts_fitted"):
                words.add(values.get(name, {}).get("text", ""))
            people |= {values[name]["text"] for name in ("seat", "lookout", "beneath", "handed_over_by") if name in values}
    people.discard("")
    words.discard("")
    looked_at, wrong = 0, 0
    for table in TABLES:
        arrow = by_duckdb(archive, batches_of(archive), table)
        for column in arrow.schema.names:
            if str(arrow.schema.field(column).type) != "string":
                continue
            for text in arrow.column(column).unique().to_pylist():
                if text is None:
                    continue
                looked_at += 1
                found = [one for one in people if re.search(rf"\b{re.escape(one)}\b", text)]
                found += [one for one in words if one in text]
                if found:
                    print(f"{table}.{column} says {text!r}, and {found} was not to be said")
                    wrong += 1
    print(f"{looked_at} texts, {len(people)} people, {len(words)} words of theirs: {wrong} found")
    return 1 if wrong or not people or not words else 0


def compare(table, reader, names, want, found, person):
    """How many rows differ. A person's name in a text is right as its keyed hash, and only there."""
    if "kind" in names:
        kind, text = names.index("kind"), names.index("text")
        hidden = Counter()
        people = {row[:kind] + row[kind + 1 : text] + (row[text],) for row in found if row[kind] == "person"}
        for row, count in want.items():
            if row[kind] == "text":
                hashed = person[row[0]](row[text])
                if row[:kind] + row[kind + 1 : text] + (hashed,) in people:
                    row = row[:kind] + ("person",) + row[kind + 1 : text] + (hashed,)
            hidden[row] += count
        want = hidden
    lacks, more = want - found, found - want
    for what, rows in (("lacks", lacks), ("has", more)):
        for row in sorted(rows, key=repr)[:3]:
            print(f"{table} by {reader} {what} {dict(zip(names, row))}")
    return sum(lacks.values()) + sum(more.values())


if __name__ == "__main__":
    arguments = sys.argv[1:]
    look = hidden if arguments[0] == "--hidden" else everything
    archive, schema, key_file, *jobs = [pathlib.Path(name) for name in arguments if name != "--hidden"]
    sys.exit(look(archive, json.loads(schema.read_text()), key_file, jobs))
