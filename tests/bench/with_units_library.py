#!/usr/bin/env python3
"""The work of `cargo bench` as a handy shop would write it: Python with a general units library.

    pip install pint
    python3 tests/bench/with_units_library.py [rows] [trials]

Compare with what `cargo bench` prints on the same machine; `side_by_side.py` has both do one table in one run.
"""

import csv
import io
import math
import random
import statistics
import sys
import time

try:
    import pint
except ImportError:
    sys.exit("this comparison needs the package pint: pip install pint")

units = pint.UnitRegistry()
Q = units.Quantity
MM2_S = units.mm**2 / units.s


def viscosity(kv40, kv100, temperature):
    def w(v):
        return math.log10(math.log10(v.to(MM2_S).magnitude + 0.7))

    def t(value):
        return math.log10(value.to(units.kelvin).magnitude)

    warm, hot = Q(40, units.degC), Q(100, units.degC)
    slope = (w(kv40) - w(kv100)) / (t(hot) - t(warm))
    return (10 ** 10 ** (w(kv40) - slope * (t(temperature) - t(warm))) - 0.7) * MM2_S


def factor(density, temperature):
    a = 0.6278 * units.kg / units.m**3 / units.delta_degC / density
    growth = (a * (temperature - Q(15, units.degC))).to(units.dimensionless).magnitude
    return math.exp(-growth * (1 + 0.8 * growth))


def volume(filled, at, to, density):
    return (filled * factor(density, at) / factor(density, to)).to(units.litre)


def rows(count, out):
    """The table of `cargo bench`."""
    out.write("kv40 [mm2/s],kv100 [mm2/s],temperature [degC]\n")
    for n in range(count, 0, -1):
        out.write(f"{28 + n % 9}.{n % 10},5.{n % 7},{40 + n % 60}.{n % 10}\n")


def calculated(table, out):
    """Hands out how many rows of the table were calculated and written so far."""
    reader, writer = csv.reader(table), csv.writer(out)
    writer.writerow(next(reader) + ["viscosity [mm2/s]"])
    for done, row in enumerate(reader, 1):
        kv40, kv100, temperature = map(float, row)
        result = viscosity(kv40 * MM2_S, kv100 * MM2_S, Q(temperature, units.degC))
        writer.writerow(row + [result.to(MM2_S).magnitude])
        yield done


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    trials = int(sys.argv[2]) if len(sys.argv) > 2 else 10_000
    print(f"Python {sys.version.split()[0]}, pint {pint.__version__}")

    turns = 2_000
    start = time.perf_counter()
    for _ in range(turns):
        viscosity(28.2 * MM2_S, 5.7 * MM2_S, Q(60, units.degC))
    print(f"viscosity-at-temperature, one at a time  {(time.perf_counter() - start) / turns * 1e6:10.2f} us")
    start = time.perf_counter()
    for _ in range(turns):
        volume(7 * units.litre, Q(40, units.degC), Q(15, units.degC), 850 * units.kg / units.m**3)
    print(f"volume-at-temperature, one at a time     {(time.perf_counter() - start) / turns * 1e6:10.2f} us")

    table, out = io.StringIO(), io.StringIO()
    rows(count, table)
    table.seek(0)
    start = time.perf_counter()
    for _ in calculated(table, out):
        pass
    print(f"a table of {count} rows                  {(time.perf_counter() - start) / count * 1e6:10.2f} us a row")

    start = time.perf_counter()
    results = []
    for _ in range(trials):
        filled = (7 + random.uniform(-0.05, 0.05)) * units.litre
        density = random.gauss(850, 5) * units.kg / units.m**3
        results.append(volume(filled, Q(random.gauss(40, 1), units.degC), Q(15, units.degC), density).magnitude)
    each = (time.perf_counter() - start) / trials * 1e6
    print(f"{trials} trials                            {each:10.2f} us a trial (u = {statistics.stdev(results):.4f} L)")


if __name__ == "__main__":
    main()
