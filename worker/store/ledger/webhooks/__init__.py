"""Webhooks: addresses that are told what happens (Standard Webhooks 1.0.0).

`outbox` writes what is to be told in the transaction of what happened, `deliveries` hands it to
the processes that send it and keeps their log, `webhooks` has the addresses and secrets.
"""
