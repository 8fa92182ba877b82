"""Looking after the knowledge: what a change moves, whether it is looser, what is due, what is thin, pooled figures."""
