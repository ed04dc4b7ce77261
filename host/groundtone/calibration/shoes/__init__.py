"""What a person who stands on the mat tells: their shoes, and a calibration without a bench run."""
