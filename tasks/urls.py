from django.urls import path

from tasks.chains import views as chains
from tasks.cues import views as cues
from tasks.day import views as day
from tasks.floor import views as floor
from tasks.inputs import hand_views as by_hand
from tasks.inputs import preference_views as preferences
from tasks.inputs import swap_views as swaps
from tasks.inputs import views as inputs
from tasks.losses import views as losses
from tasks.papers import views as papers
from tasks.recalling import views as recalling
from tasks.words import views as words

app_name = "tasks"
urlpatterns = [
    path("day", day.my_day, name="my_day"),
    path("sessions/<int:session_id>/checklist", day.checklist, name="checklist"),
    path("sessions/<int:session_id>/checklist/live", day.live, name="live"),
    path("sessions/<int:session_id>/count", losses.count, name="count_back"),
    path("tasks/<int:task_id>/tick", day.tick, name="tick"),
    path("sessions/<int:session_id>/inputs", inputs.inputs, name="inputs"),
    path("sessions/<int:session_id>/inputs/again", inputs.plan_again, name="plan_again"),
    path("sessions/<int:session_id>/papers", papers.papers, name="papers"),
    path("sessions/<int:session_id>/papers/<slug:name>.csv", papers.as_csv, name="paper_csv"),
    path("sessions/<int:session_id>/floor", floor.floor, name="floor"),
    path("sessions/<int:session_id>/floor.csv", floor.floor_csv, name="floor_csv"),
    path("sessions/<int:session_id>/headphones", cues.cues, name="cues"),
    path("sessions/<int:session_id>/headphones.csv", cues.cues_csv, name="cues_csv"),
    path("sessions/<int:session_id>/recall", recalling.recall_page, name="recall"),
    path("sessions/<int:session_id>/parts", inputs.session_parts, name="session_parts"),
    path("sessions/<int:session_id>/inputs/correct", words.correct, name="correct"),
    path("sessions/<int:session_id>/chains", chains.chains, name="chains"),
    path("sessions/<int:session_id>/inputs/<int:input_id>/chain", chains.chain, name="chain"),
    path("sessions/<int:session_id>/inputs/<int:input_id>/chain/choose", chains.choose, name="choose_chain"),
    path("sessions/<int:session_id>/inputs/<int:input_id>/swap", swaps.swap_input, name="swap"),
    path("sessions/<int:session_id>/inputs/add", by_hand.add, name="add_input"),
    path("sessions/<int:session_id>/inputs/check", by_hand.check_added, name="check_added"),
    path("sessions/<int:session_id>/inputs/drop", by_hand.drop, name="drop_input"),
    path("sessions/<int:session_id>/inputs/allow", by_hand.allow, name="allow_for"),
    path("sessions/<int:session_id>/inputs/undo", by_hand.undo, name="undo_by_hand"),
    path("sessions/<int:session_id>/inputs/<int:input_id>/keep", by_hand.pin, name="keep_input"),
    path("sessions/<int:session_id>/inputs/ways-out/<int:number>", by_hand.ways, name="ways_out"),
    path("sessions/<int:session_id>/inputs/always", preferences.always, name="always"),
    path("preferences", preferences.mine, name="preferences"),
    path("preferences/<int:preference_id>/forget", preferences.forget_one, name="forget_preference"),
    path("house-preferences", preferences.of_house, name="house_preferences"),
    path("costs", preferences.costs, name="costs"),
    path("gear-uses/<path:tag>", swaps.uses, name="uses"),
    path("words", words.words, name="words"),
    path("words/<int:word_id>/forget", words.forget_word, name="forget_word"),
    path("read-list", inputs.read_list, name="read_list"),
]
