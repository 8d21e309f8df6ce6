"""All benches of this folder in one table: `python bench`, or `python bench bench_air` for one of them.

A bench is a module `bench_*.py` with `rows()`: one `Row` a measurement. Ends with 1 when a bound does not hold.
"""

import sys
import time
from importlib import import_module
from pathlib import Path

from row import Row


def main(names: list[str]) -> int:
    """Run the benches named, or all; 0 if every bound holds."""
    found = sorted(path.stem for path in Path(__file__).parent.glob("bench_*.py"))
    unknown = set(names) - set(found)
    if unknown:
        raise SystemExit(f"no such bench: {', '.join(sorted(unknown))}; there are {', '.join(found)}")
    slow = 0
    for name in names or found:
        began = time.perf_counter()
        rows: list[Row] = import_module(name).rows()
        print(f"\n{name}  ({time.perf_counter() - began:.1f} s)")
        for row in rows:
            slow += not row.ok
            print(
                f"  {row.name:<44} {row.ratio:>9.3g} {row.unit:<12} {row.bound:>8.3g}  {'ok' if row.ok else 'MISSED'}"
            )
    print(f"\n{'every bound holds' if not slow else f'{slow} bounds do not hold'}")
    return 1 if slow else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
