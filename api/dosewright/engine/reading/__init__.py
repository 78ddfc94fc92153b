"""Reading a request, with every fault in it."""
