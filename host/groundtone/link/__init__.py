"""Links: one small interface behind which a cable, a recording and the twin look alike."""
