"""The benchmarks by name, each "module:function".

A function takes the number of seeds (None: its own) and returns its figures, a dict that prints;
the key "ok" says whether every figure is what is asked for.
"""

BENCHES: dict[str, str] = {
    "wire": "groundtone.app.bench.wire:bench_wire",
    "network": "groundtone.app.bench.network:bench_network",
    "live": "groundtone.app.bench.live:bench_live",
}

LONG: frozenset[str] = frozenset()
"""Studies of many minutes, which "all" leaves out."""
