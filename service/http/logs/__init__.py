"""What is written down of requests: the access log, and the program's own."""
