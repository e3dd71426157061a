"""Published networks: what their files hold, converted once, and run as they are published."""
