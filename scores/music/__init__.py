"""The computation on music: pure functions on `notation`, without Django, files or clock."""
