"""Audits many jobs on a cluster: lines of JSON go through `standpipe audit --files-from -` on every worker.

    audit_on_spark.py LIST RESULTS [--master M] [--parts N] [--break-after SECONDS]

LIST has a line `{"key": ..., "folder": ...}` for each job, as `list.sh` writes it; every worker has to find the folders under the
same names. RESULTS gets one line for each job, sorted, so that whoever audits the same jobs in another way comes to the same bytes.
`STANDPIPE` names the program, if it is not on the path. With `--break-after` one worker of a local cluster is killed on the way.
"""

import argparse
import hashlib
import json
import os
import pathlib
import signal
import sys
import threading
import time


def whole(lines):
    """The answers of one worker. One that was ended half-way gave no last line: then the part is done again elsewhere."""
    answers, end = [], None
    for line in lines:
        answer = json.loads(line)
        if answer.get("end") is True:
            end = answer
        else:
            answers.append(json.dumps(answer, sort_keys=True, ensure_ascii=False))
    if end is None or end["asked"] != len(answers) or end["answered"] != end["asked"]:
        raise RuntimeError(f"a worker ended after {len(answers)} answers: {end}")
    return answers


def written(answers, results):
    """Sorted, each once: equal repeats are one, unequal ones of a key are an error. The hash of it all."""
    answers = sorted(set(answers))
    keys = {json.dumps(json.loads(answer)["key"]) for answer in answers}
    if len(keys) != len(answers):
        raise RuntimeError(f"{len(answers)} different answers to {len(keys)} jobs")
    text = "".join(answer + "\n" for answer in answers)
    pathlib.Path(results).write_text(text)
    return len(answers), hashlib.sha256(text.encode()).hexdigest()


def descendants(of):
    """Processes below one, as the system lists them."""
    parents = {}
    for stat in pathlib.Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        parents.setdefault(int(fields[1]), []).append(int(stat.parent.name))
    found, todo = [], [of]
    while todo:
        children = parents.get(todo.pop(), [])
        found += children
        todo += children
    return found


def break_one(seconds, broken):
    """Kills an executor of this run, and no other process."""
    time.sleep(seconds)
    for process in descendants(os.getpid()):
        try:
            command = pathlib.Path(f"/proc/{process}/cmdline").read_bytes()
        except OSError:
            continue
        if b"CoarseGrainedExecutorBackend" in command:
            os.kill(process, signal.SIGKILL)
            broken.append(process)
            return


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("list", type=pathlib.Path)
    parser.add_argument("results")
    parser.add_argument("--master", default="local-cluster[2,1,1024]")
    parser.add_argument("--parts", type=int, default=32)
    parser.add_argument("--break-after", type=float)
    asked = parser.parse_args()

    import pyspark
    from pyspark.sql import SparkSession

    # Without these, workers take whatever Python and Spark the system has.
    os.environ.setdefault("SPARK_HOME", os.path.dirname(pyspark.__file__))
    os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
    begun = time.monotonic()
    builder = SparkSession.builder.master(asked.master).appName("audit").config("spark.ui.enabled", "false")
    context = builder.config("spark.log.level", "ERROR").getOrCreate().sparkContext
    started = time.monotonic()
    lines = asked.list.read_text().splitlines()
    broken = []
    if asked.break_after is not None:
        threading.Thread(target=break_one, args=(asked.break_after, broken), daemon=True).start()
    worker = f"{os.environ.get('STANDPIPE', 'standpipe')} audit --files-from -"
    # Exit code 1 says that a job does not hold: an answer, and no failure of the worker.
    answers = context.parallelize(lines, asked.parts).pipe(worker).mapPartitions(whole).collect()
    count, hashed = written(answers, asked.results)
    ended = time.monotonic()
    print(json.dumps({
        "jobs": count, "sha256": hashed, "start_s": round(started - begun, 1), "audit_s": round(ended - started, 1),
        "killed": len(broken),
    }))
    return 0 if count == len(lines) else 1


if __name__ == "__main__":
    sys.exit(main())
