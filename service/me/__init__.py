"""The person who asks: who they are, their packs, an export of their data, its deletion."""
