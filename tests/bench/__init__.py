"""Benchmarks: programs that print tables of ratios; never run as tests."""
