"""Launches from learning platforms: 1EdTech LTI 1.3 (the extra `ricalco[lti]`)."""
