"""What runs while somebody stands on a mat: the loop, its recording, the commands; the demo."""
