"""Instrument lists as people write them, to sources, stated non-inputs and questions. Pure: text in, records out."""

from tasks.reading.reading import read
from tasks.reading.records import NotInput, Question, Reading, ReadSource

__all__ = ["NotInput", "Question", "ReadSource", "Reading", "read"]
