"""What the processes of one machine count for a Prometheus, and its page of figures.

`families` says what is counted, `counts` is what one process counts, `shared` adds up all
processes of a data folder, those that have ended too, and `exposition` writes the page. Figures
of the queue are no counts: they are read from the ledger for each page (`service.runtime.metrics`).
"""
