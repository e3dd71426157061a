"""Broken files sent through the real intake: `python -m tests.fuzz`.

Each is a sound file of a kind that is read here, with some bytes changed. All but every twentieth
go to a process that leaves out the reading of the finished picture, which takes longer than all
the rest and sees pixels, never bytes of the file.
"""
