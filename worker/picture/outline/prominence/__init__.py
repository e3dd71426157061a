"""Where the main thing of a picture lies.

`prominence` weighs what is known of it: `focus` tells what is in focus, `figures` what belongs to a
head, and the reading what the picture is of.
"""
