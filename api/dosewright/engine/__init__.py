"""How a calculation is described, read, run and written; it knows no topic, no HTTP and no presentation."""
