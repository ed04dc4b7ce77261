"""A pupil's name that tries everything a name can have."""

PUPIL = "Ünïque <b>pupil</b> & 'co' \\ 名"
