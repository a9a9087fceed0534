"""The addresses of the teaching."""

from django.urls import path

from lessons.views import assignments, families, handouts, lessons, practice, repertoire, week

urlpatterns = [
    path("repertoire/", repertoire.repertoire, name="repertoire"),
    path("students/<int:pk>/repertoire/", repertoire.students_repertoire, name="students-repertoire"),
    path("students/<int:pk>/repertoire/say/", repertoire.say_played, name="say-played"),
    path("played/<int:pk>/unsay/", repertoire.unsay_played, name="unsay-played"),
    path("played/say-again/<str:token>/", repertoire.say_again, name="say-again"),
    path("today/", week.today, name="today"),
    path("week/", week.week, name="week"),
    path("lessons/restore/<str:token>/", lessons.restore_lesson, name="restore-lesson"),
    path("lessons/new/", lessons.new_lesson, name="new-lesson"),
    path("lessons/<int:pk>/", lessons.lesson, name="lesson"),
    path("lessons/<int:pk>/change/", lessons.change_lesson, name="change-lesson"),
    path("lessons/<int:pk>/notes/", lessons.keep_notes, name="keep-lesson-notes"),
    path("lessons/<int:pk>/remove/", lessons.remove_lesson, name="remove-lesson"),
    path("lessons/<int:pk>/assign/", assignments.assign, name="assign"),
    path("assignments/<int:pk>/", assignments.keep_assignment, name="keep-assignment"),
    path("assignments/<int:pk>/remove/", assignments.remove_assignment, name="remove-assignment"),
    path("assigned/restore/<str:token>/", assignments.restore_work, name="restore-work"),
    path("assigned/<int:pk>/", assignments.assigned, name="assigned"),
    path("assigned/<int:pk>/move/", assignments.move_assigned, name="move-assigned"),
    path("assigned/<int:pk>/remove/", assignments.remove_assigned, name="remove-assigned"),
    path("assigned/<int:pk>/music/", assignments.music_file, name="assigned-music"),
    path("lessons/<int:pk>/handout/", handouts.preview, name="handout-preview"),
    path("lessons/<int:pk>/handout/draft.pdf", handouts.draft_pdf, name="handout-draft"),
    path("lessons/<int:pk>/handout/give/", handouts.give, name="give-handout"),
    path("handouts/<int:pk>/", handouts.handout, name="handout"),
    path("handouts/<int:pk>/sheet.pdf", handouts.pdf, name="handout-pdf"),
    path("this-week/", families.this_week, name="this-week"),
    path("children/", families.children, name="children"),
    path("children/<int:pk>/", families.child, name="child"),
    path("assigned/<int:pk>/choose/", families.choose, name="choose"),
    path("students/<int:pk>/practice/", practice.log, name="practice-log"),
    path("students/<int:pk>/practice/new/", practice.new_entry, name="new-entry"),
    path("practice/<int:pk>/change/", practice.change_entry, name="change-entry"),
    path("practice/<int:pk>/remove/", practice.remove_entry, name="remove-entry"),
    path("practice/<int:pk>/restore/", practice.restore_entry, name="restore-entry"),
]
