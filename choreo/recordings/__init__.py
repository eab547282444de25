"""What was recorded of runs: files of many shapes -> arrays on one clock in the site frame, and what is odd there."""
