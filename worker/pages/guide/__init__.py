"""Pages 2 and 3, the guide: what to do with this pack, step by step."""
