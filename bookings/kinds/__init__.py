"""A site's own list of kinds of session."""
