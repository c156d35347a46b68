"""What the house knows about sources: names in six languages, microphones, positions, levels, cautions."""

from tasks.catalogue.errors import CatalogueError
from tasks.catalogue.loading import load_catalogue
from tasks.catalogue.sources import FAMILIES, Alias, Catalogue, Source

__all__ = ["FAMILIES", "Alias", "Catalogue", "CatalogueError", "Source", "load_catalogue"]
