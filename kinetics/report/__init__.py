"""The report: one self-contained page of a batch, to read, to print or to send. Imported only where it is asked for."""
