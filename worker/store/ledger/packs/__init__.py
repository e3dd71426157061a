"""Rows of references, packs, batches and printers."""
