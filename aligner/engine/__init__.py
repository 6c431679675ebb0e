"""The engine: the next ask as a pure function of the procedure and the history."""
