"""The page that the pupil takes home."""
