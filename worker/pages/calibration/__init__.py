"""The test page that a printer is measured by, and what its readings mean."""
