"""What is sent to learning platforms, and fetched from them (the extra `ricalco[lti]`)."""
