"""Experiments with known truth: how near the answers are, and how often their intervals hold it."""
