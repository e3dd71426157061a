"""HTTP requests to hosts that others name: at checked addresses, and within bounds."""
