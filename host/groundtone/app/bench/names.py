"""The benchmarks by name, each "module:function".

A function takes the number of seeds (None: its own) and returns its figures, a dict that prints;
the key "ok" says whether every figure is what is asked for.
"""

BENCHES: dict[str, str] = {
    "wire": "groundtone.app.bench.wire:bench_wire",
    "network": "groundtone.app.bench.network:bench_network",
    "scan": "groundtone.app.bench.scan:bench_scan",
    "strike-sensor": "groundtone.app.bench.strike_sensor:bench_strike_sensor",
    "live": "groundtone.app.bench.live:bench_live",
    "commission": "groundtone.app.bench.commission:bench_commission",
    "calibration-fit": "groundtone.app.bench.calibration_fit:bench_calibration_fit",
    "calibration": "groundtone.app.bench.calibration:bench_calibration",
    "record": "groundtone.app.bench.record:bench_record",
    "strikes": "groundtone.app.bench.strikes:bench_strikes",
    "swings": "groundtone.app.bench.swings:bench_swings",
}

LONG: frozenset[str] = frozenset({"calibration", "commission", "swings"})
"""Studies of many minutes, which "all" leaves out."""
