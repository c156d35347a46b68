"""What a file of the catalogue that can't be used is answered with."""


class CatalogueError(ValueError):
    """A catalogue file that can't be used; the message names file and entry and says what to do."""
