"""Webhooks: addresses of course sites and tutors that are told what happens."""
