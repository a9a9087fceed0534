"""The addresses of the music."""

from django.urls import path

from scores.views import desk, editions, entry, notes, passages, pieces

urlpatterns = [
    path("repertoire/", pieces.repertoire, name="repertoire"),
    path("repertoire/new/", pieces.new_piece, name="new-piece"),
    path("pieces/<int:pk>/", pieces.piece, name="piece"),
    path("pieces/<int:pk>/change/", pieces.change_piece, name="change-piece"),
    path("pieces/<int:pk>/editions/new/", editions.new_edition, name="new-edition"),
    path("uploads/<uuid:key>/", editions.upload_state, name="upload-state"),
    path("pieces/<int:pk>/entry/", entry.enter_passage, name="enter-passage"),
    path("entry/preview/", entry.preview, name="entry-preview"),
    path("editions/<int:pk>/", editions.edition, name="edition"),
    path("editions/<int:pk>/change/", editions.change_edition, name="change-edition"),
    path("editions/<int:pk>/systems/", editions.systems, name="edition-systems"),
    path("editions/<int:pk>/file/", editions.file, name="edition-file"),
    path("editions/<int:pk>/passages/new/", passages.new_passage, name="new-passage"),
    path("passages/<int:pk>/", desk.desk, name="desk"),
    path("passages/<int:pk>/music/", desk.music, name="desk-music"),
    path("passages/<int:pk>/name/", passages.name_passage, name="name-passage"),
    path("passages/<int:pk>/remove/", passages.remove_passage, name="remove-passage"),
    path("passages/<int:pk>/restore/", passages.restore_passage, name="restore-passage"),
    path("passages/<int:pk>/fingerings/new/", notes.new_fingering, name="new-fingering"),
    path("fingerings/<int:pk>/", notes.keep_fingering, name="keep-fingering"),
    path("fingerings/<int:pk>/line/", notes.keep_line, name="keep-line"),
    path("fingerings/<int:pk>/fingers/", notes.keep_fingers, name="keep-fingers"),
    path("fingerings/<int:pk>/copy/", notes.copy_fingering, name="copy-fingering"),
    path("fingerings/<int:pk>/remove/", notes.remove_fingering, name="remove-fingering"),
    path("fingerings/<int:pk>/restore/", notes.restore_fingering, name="restore-fingering"),
    path("passages/<int:pk>/placements/", notes.keep_placement, name="keep-placement"),
    path("passages/<int:pk>/drills/new/", notes.new_drill, name="new-drill"),
    path("drills/<int:pk>/", notes.keep_drill, name="keep-drill"),
    path("drills/<int:pk>/copy/", notes.copy_drill, name="copy-drill"),
    path("drills/<int:pk>/remove/", notes.remove_drill, name="remove-drill"),
    path("drills/<int:pk>/restore/", notes.restore_drill, name="restore-drill"),
    path("passages/<int:pk>/cues/new/", notes.new_cue, name="new-cue"),
    path("cues/<int:pk>/", notes.keep_cue, name="keep-cue"),
    path("cues/<int:pk>/copy/", notes.copy_cue, name="copy-cue"),
    path("cues/<int:pk>/remove/", notes.remove_cue, name="remove-cue"),
    path("cues/<int:pk>/restore/", notes.restore_cue, name="restore-cue"),
]
