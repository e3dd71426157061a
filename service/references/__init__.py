"""References: photos that are uploaded, shown, squared up and deleted."""
