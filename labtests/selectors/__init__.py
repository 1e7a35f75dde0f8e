"""Reads of the lab."""
