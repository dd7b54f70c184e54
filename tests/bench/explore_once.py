"""`python -m tests.bench.explore_once DOORS BUTTONS`: explore one generated chain and say what it took, as JSON."""

import json
import sys
import time

from interlock.chain.compile import compile_bench
from interlock.chain.reach import reach
from tests.bench.bench_row import peak_mib
from tests.bench.chain_doors import doors


def main() -> None:
    """Processor time of the exploration alone; memory of the whole process."""
    chain = compile_bench(doors(int(sys.argv[1]), int(sys.argv[2]))).chain
    begun = time.process_time()
    found = reach(chain)
    cpu_s = time.process_time() - begun
    said = {"states": found.states, "shortfall": found.shortfall, "cpu_s": cpu_s, "peak_mib": peak_mib()}
    print(json.dumps(said))


if __name__ == "__main__":
    main()
