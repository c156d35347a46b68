"""The headphone plan of a session: who hears which mix, from which output, on which headphones."""
