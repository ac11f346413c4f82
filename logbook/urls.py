"""The log's addresses."""

from django.urls import path

from logbook.views import (
    blank_sheet,
    correction,
    day_sheet,
    duty,
    entry,
    export,
    interruption,
    meter,
    permit,
    remark,
    state,
    tube,
)
from logbook.views import round as round_page

urlpatterns = [
    path("", round_page.transmitters, name="transmitters"),
    path("export", export.export, name="export"),
    path("interruptions", interruption.interruptions, name="interruptions"),
    path("interruption", interruption.interruption_new, name="interruption_new"),
    path("interruption/<int:loss>/restored", interruption.restored, name="restored"),
    path("permits", permit.permits, name="permits"),
    path("permit", permit.permit_new, name="permit_new"),
    path("permit/<int:permit>/return", permit.permit_return, name="permit_return"),
    path("duty", duty.duty, name="duty"),
    path("duty/hand-over", duty.hand_over, name="hand_over"),
    path("duty/take-over", duty.take_over, name="take_over"),
    path("tube-move", tube.tube_move, name="tube_move"),
    path("tube-new", tube.tube_new, name="tube_new"),
    path("tube/<str:serial>", tube.tube, name="tube"),
    path("tube/<str:serial>/facts", tube.tube_facts, name="tube_facts"),
    path("<str:code>/meters", meter.meters, name="meters"),
    path("<str:code>/meters/<str:meter>", meter.meter_change, name="meter_change"),
    path("round/<int:no>", round_page.round_saved, name="round_saved"),
    path("round/<int:no>/re-read", round_page.round_re_read, name="round_re_read"),
    path("<str:code>/round", round_page.round_new, name="round_new"),
    path("<str:code>/blank", blank_sheet.blank_sheet, name="blank_sheet"),
    path("<str:code>/state", state.state_new, name="state_new"),
    path("entry/<int:no>", entry.entry, name="entry"),
    path("entry/<int:no>/correct", correction.correct, name="correct"),
    path("entry/<int:no>/anew", correction.write_anew, name="write_anew"),
    path("entry/<int:no>/void", correction.void, name="void_entry"),
    path("entry/<int:no>/choose", correction.choose_round, name="choose_round"),
    path("entry/<int:no>/remark", remark.remark_about, name="remark_about"),
    path("<str:code>/day", day_sheet.choose_day, name="choose_day"),
    path("<str:code>/day/<str:day>", day_sheet.day_sheet, name="day_sheet"),
    path("<str:code>/remark", remark.remark, name="remark"),
]
