"""What happened in single steps of a run: the evidence in sentences, rows, tracks and files."""
