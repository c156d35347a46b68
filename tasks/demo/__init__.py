"""A demo house as readable files, and the loader. A house may load files of its own in the same form."""

from tasks.demo.entries import DemoError
from tasks.demo.load import DATA, Loaded, load_house

__all__ = ["DATA", "DemoError", "Loaded", "load_house"]
