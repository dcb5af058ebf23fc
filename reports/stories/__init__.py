"""What happened in single steps of a run: the evidence, told in sentences, rows and tracks."""
