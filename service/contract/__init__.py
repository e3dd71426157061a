"""The contract: what the OpenAPI document says, and the pages that explain it to people."""
