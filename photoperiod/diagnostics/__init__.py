"""Findings as values, and the table of their codes."""
