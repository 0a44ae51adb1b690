"""The bench log: jobs from opening to completion, by hand, by stopwatch and by file."""
