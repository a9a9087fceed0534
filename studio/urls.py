"""Every address of the site: the studio's own here, the rooms' in their own files."""

from django.urls import include, path

from studio.views import accounts, help, home, invitations, people, settings

urlpatterns = [
    path("", home.home, name="home"),
    path("start/", accounts.start, name="start"),
    path("log-in/", accounts.log_in, name="log-in"),
    path("log-out/", accounts.log_out, name="log-out"),
    path("password/", accounts.change_password, name="change-password"),
    path("password/forgotten/", accounts.forgotten, name="forgotten"),
    path("password/forgotten/sent/", accounts.forgotten_sent, name="forgotten-sent"),
    path("password/new/<uidb64>/<token>/", accounts.new_password, name="new-password"),
    path("studio/", settings.studio, name="studio"),
    path("students/", people.students, name="students"),
    path("students/new/", people.new_student, name="new-student"),
    path("students/<int:pk>/", people.student, name="student"),
    path("students/<int:pk>/change/", people.change_student, name="change-student"),
    path("students/<int:pk>/leave/", people.leave, name="leave"),
    path("students/<int:pk>/return/", people.come_back, name="come-back"),
    path("students/<int:pk>/hands/new/", people.new_hand, name="new-hand"),
    path("hands/<int:pk>/remove/", people.remove_hand, name="remove-hand"),
    path("hands/restore/<str:kept>/", people.restore_hand, name="restore-hand"),
    path("students/<int:pk>/guardians/new/", people.new_guardian, name="new-guardian"),
    path("guardians/<int:pk>/change/", people.change_guardian, name="change-guardian"),
    path("students/<int:pk>/guardians/<int:guardian>/link/", people.link_guardian, name="link-guardian"),
    path("students/<int:pk>/guardians/<int:guardian>/unlink/", people.unlink_guardian, name="unlink-guardian"),
    path("students/<int:pk>/invite/", invitations.invite_student, name="invite-student"),
    path("guardians/<int:pk>/invite/", invitations.invite_guardian, name="invite-guardian"),
    path("invitations/<int:pk>/take-back/", invitations.take_back, name="take-back-invitation"),
    path("invitation/<str:token>/", invitations.accept, name="invitation"),
    path("help/", help.help_index, name="help"),
    path("help/<slug:topic>/", help.topic, name="help-topic"),
    path("", include("scores.urls")),
    path("", include("lessons.urls")),
]
