"""The job and its plan: plain frozen values, in millimetres; `json` reads and writes them."""
