"""Benchmarks: figures of this program on this machine."""
