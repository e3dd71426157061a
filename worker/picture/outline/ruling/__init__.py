"""Straight things come out straight.

`fitting` says which stretches of lines are straight, `built` where much is, `directions` which way
ruled lines run around a place, and `meeting` where they meet. `straightening` calls them all.
"""
