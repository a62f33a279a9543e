"""Findings, summaries and references as text for people and as JSON."""
