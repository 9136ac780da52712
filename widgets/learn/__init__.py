"""What is learned and how it is marked: objectives, questions, marks and the record. No widgets here."""

from .items import READING_QUESTIONS, Hint, Item, Option, hints, items_for
from .marking import BadAnswer, Mark, mark
from .misconceptions import MISCONCEPTIONS, Misconception
from .objectives import OBJECTIVES, PASS_SHARE, Objective
from .record import Record, RecordTrouble, Row, data_folder

__all__ = ["MISCONCEPTIONS", "OBJECTIVES", "PASS_SHARE", "READING_QUESTIONS", "BadAnswer", "Hint", "Item",
           "Mark", "Misconception", "Objective", "Option", "Record", "RecordTrouble", "Row", "data_folder",
           "hints", "items_for", "mark"]
