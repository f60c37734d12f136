"""Asks an archive the questions beside this file, by DuckDB or by Spark SQL.

    ask.py ARCHIVE [--engine duckdb|spark|both] [--simulated] [QUESTION...]

Real jobs that are closed are asked, or simulated ones: never both at once. With `both`, the two engines have to come to the same
rows. A question is the name of a file in `questions`; all are asked where none is named.
"""

import argparse
import json
import math
import os
import pathlib
import sys

TABLES = ["jobs", "entries", "readings", "verdicts", "looked_at", "computed"]
QUESTIONS = pathlib.Path(__file__).parent / "questions"


def files(archive, table):
    """The list says what is there. Whoever takes all files of the folder also takes what a run left that was cut off."""
    batches = json.loads((archive / "archive.json").read_text())["batches"]
    return [
        str(archive / table / f"shop={batch['shop'] or '-'}" / f"month={batch['month']}" / f"{batch['name']}.parquet")
        for batch in batches
        if batch["month"] != "open"
    ]


class DuckDb:
    def __init__(self, archive, simulated):
        import duckdb

        self.connection = duckdb.connect()
        for table in TABLES:
            # An archive that has grown over versions may have files without the newest columns.
            self.connection.execute(
                f"CREATE VIEW {table} AS SELECT * FROM read_parquet({files(archive, table)!r}, hive_partitioning = true,"
                f" hive_types_autocast = false, union_by_name = true) WHERE simulated = {simulated}"
            )

    def ask(self, query):
        asked = self.connection.execute(query)
        return [column[0] for column in asked.description], asked.fetchall()


class Spark:
    def __init__(self, archive, simulated):
        from pyspark.sql import SparkSession

        os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
        builder = SparkSession.builder.master("local[2]").appName("archive").config("spark.ui.enabled", "false")
        # A shop called 1234 is no number.
        builder = builder.config("spark.sql.sources.partitionColumnTypeInference.enabled", "false")
        builder = builder.config("spark.sql.shuffle.partitions", "4").config("spark.log.level", "ERROR")
        # Each question is many small steps: compiling and replanning them took longer than all else.
        builder = builder.config("spark.sql.codegen.wholeStage", "false").config("spark.sql.adaptive.enabled", "false")
        builder = builder.config("spark.sql.codegen.factoryMode", "NO_CODEGEN")
        self.session = builder.getOrCreate()
        for table in TABLES:
            read = self.session.read.option("basePath", str(archive / table)).option("mergeSchema", "true")
            read.parquet(*files(archive, table)).where(f"simulated = {simulated}").createOrReplaceTempView(table)

    def ask(self, query):
        asked = self.session.sql(query)
        return asked.columns, [tuple(row) for row in asked.collect()]


def ask(engine, name):
    return engine.ask((QUESTIONS / f"{name}.sql").read_text())


def alike(one, other):
    """Sums come in any order: numbers are alike up to that."""
    if isinstance(one, str) or isinstance(other, str) or one is None or other is None:
        return one == other
    return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-12)


def same(one, other):
    rows = zip(one, other)
    return len(one) == len(other) and all(len(a) == len(b) and all(map(alike, a, b)) for a, b in rows)


def shown(columns, rows):
    def cell(value):
        return f"{value:.4g}" if isinstance(value, float) else str(value)

    table = [list(columns)] + [[cell(value) for value in row] for row in rows]
    widths = [max(len(line[index]) for line in table) for index in range(len(columns))]
    return "\n".join("  ".join(text.ljust(width) for text, width in zip(line, widths)).rstrip() for line in table)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("archive", type=pathlib.Path)
    parser.add_argument("--engine", choices=["duckdb", "spark", "both"], default="duckdb")
    parser.add_argument("--simulated", action="store_true")
    parser.add_argument("--json", action="store_true", help="rows as JSON, a line for each question")
    parser.add_argument("questions", nargs="*")
    asked = parser.parse_intermixed_args()
    names = asked.questions or sorted(path.stem for path in QUESTIONS.glob("*.sql"))
    known = {"duckdb": [DuckDb], "spark": [Spark], "both": [DuckDb, Spark]}[asked.engine]
    engines = [engine(asked.archive, str(asked.simulated).lower()) for engine in known]
    differ = []
    for name in names:
        answers = [ask(engine, name) for engine in engines]
        columns, rows = answers[0]
        if asked.json:
            print(json.dumps({"question": name, "rows": [dict(zip(columns, row)) for row in rows]}))
        else:
            title = (QUESTIONS / f"{name}.sql").read_text().splitlines()[0].removeprefix("-- ")
            print(f"{title}\n\n{shown(columns, rows)}\n")
        if len(answers) == 2 and not same(answers[0][1], answers[1][1]):
            differ.append(name)
            print(f"{name}: Spark SQL comes to other rows\n{shown(*answers[1])}\n", file=sys.stderr)
    if len(engines) == 2:
        print(f"both engines alike in {len(names) - len(differ)} of {len(names)} questions")
    return 1 if differ else 0


if __name__ == "__main__":
    sys.exit(main())
