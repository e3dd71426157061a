"""How connections are served: how long each may take, how many there may be, whose turn it is."""
