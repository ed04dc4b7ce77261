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
    "disconnects": "groundtone.app.bench.disconnects:bench_disconnects",
    "endurance": "groundtone.app.bench.endurance:bench_endurance",
    "commission": "groundtone.app.bench.commission:bench_commission",
    "calibration-fit": "groundtone.app.bench.calibration_fit:bench_calibration_fit",
    "calibration": "groundtone.app.bench.calibration:bench_calibration",
    "calibration-ordinary": "groundtone.app.bench.calibration:bench_ordinary",
    "calibration-hard": "groundtone.app.bench.calibration:bench_hard",
    "calibration-standing": "groundtone.app.bench.calibration:bench_standing",
    "calibration-ageing": "groundtone.app.bench.calibration:bench_ageing",
    "calibration-coverage": "groundtone.app.bench.calibration:bench_coverage",
    "calibration-without-pads": "groundtone.app.bench.calibration:bench_without_pads",
    "page": "groundtone.app.bench.page:bench_page",
    "record": "groundtone.app.bench.record:bench_record",
    "sound": "groundtone.app.bench.sound:bench_sound",
    "underruns": "groundtone.app.bench.underruns:bench_underruns",
    "strikes": "groundtone.app.bench.strikes:bench_strikes",
    "swings": "groundtone.app.bench.swings:bench_swings",
    "window": "groundtone.app.bench.window:bench_window",
    "practice": "groundtone.app.bench.practice:bench_practice",
}

_PARTS = frozenset(name for name in BENCHES if name.startswith("calibration") and name != "calibration-fit")

LONG: frozenset[str] = _PARTS | {"commission", "disconnects", "endurance", "practice", "swings", "underruns"}
"""Studies of many minutes, which "all" leaves out."""
