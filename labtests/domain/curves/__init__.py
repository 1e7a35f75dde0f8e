"""Curves of torque and force: smoothing, reading at a mark, averages over tests."""
