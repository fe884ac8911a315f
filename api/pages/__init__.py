"""Pages: templates rendered here, scripts and style sheets of our own, no build step."""
