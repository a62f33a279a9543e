"""Turn values into text: diagnostics as text, JSON or SARIF, a program's summary for a person."""
