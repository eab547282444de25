"""What recorded runs teach: errors of movers and latencies of triggers, with intervals, written into a fleet file."""
