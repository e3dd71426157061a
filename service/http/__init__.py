"""The edge: requests in, answers out, in one form for every resource."""
