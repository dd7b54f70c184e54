"""`python -m tests.bench.explore_once DOORS BUTTONS`: explore one generated chain and say what it took, as JSON."""

import json
import sys
import time

from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from tests.bench.bench_row import peak_mib
from tests.bench.chain_doors import doors


def main() -> None:
    """Processor time of the exploration alone; memory of the whole process."""
    chain = compile_bench(doors(int(sys.argv[1]), int(sys.argv[2]))).chain
    begun = time.process_time()
    graph = explore(chain, 1 << 30)
    cpu_s = time.process_time() - begun
    found = {"states": len(graph.states), "whole": graph.whole, "cpu_s": cpu_s, "peak_mib": peak_mib()}
    print(json.dumps(found))


if __name__ == "__main__":
    main()
