"""The coach's commands: swings and strikes in review, golfers, their bands, and the page to take home."""
