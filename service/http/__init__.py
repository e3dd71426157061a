"""What every request and response passes: parsing, errors, headers, logs, host checks."""
