"""The numbers: pure numpy functions in SI, floats or arrays in and out, no units, no input or output."""
