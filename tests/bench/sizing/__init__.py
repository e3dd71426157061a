"""How much a service needs for so many students: the queue simulated, from measured figures."""
