"""References: photos taken in, shown, squared up and deleted."""
