"""What the times in a trace allow to be said: edges, latency bounds, coast-down, discharge, statistics."""
