"""What a web process keeps, so that it need not find it again."""
