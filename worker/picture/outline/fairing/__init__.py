"""Lines made fair: without trembling, and with curves over their gaps.

`gap_curves` puts places into gaps, and `fairing` smooths lines as far as it is doubtful where they
run. `ways` says which place is so many steps from another.
"""
