"""What must be done."""

from tasks.models.by_hand import ByHand
from tasks.models.chains import ChainWish, PlannedInsert
from tasks.models.cues import CueChoice, CuePlace
from tasks.models.floors import SourcePlace
from tasks.models.papers import PapersSeen
from tasks.models.pins import Pin
from tasks.models.plans import Plan, PlannedInput, UnfilledNeed
from tasks.models.preferences import HouseCost, Preference
from tasks.models.reminders import Reminder
from tasks.models.settings import UnitSetting
from tasks.models.tasks import Task
from tasks.models.words import HouseWord

__all__ = [
    "ByHand",
    "ChainWish",
    "CueChoice",
    "CuePlace",
    "HouseCost",
    "HouseWord",
    "PapersSeen",
    "Pin",
    "Plan",
    "PlannedInput",
    "PlannedInsert",
    "Preference",
    "Reminder",
    "SourcePlace",
    "Task",
    "UnfilledNeed",
    "UnitSetting",
]
