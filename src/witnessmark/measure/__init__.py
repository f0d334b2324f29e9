"""Recording and engine description in, findings out."""
