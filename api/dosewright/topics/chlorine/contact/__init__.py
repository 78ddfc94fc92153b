"""Contact time: segments, required CT and the solver."""
