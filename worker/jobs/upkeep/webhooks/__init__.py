"""Sending what webhooks are told: to a checked address, signed, and within bounds."""
