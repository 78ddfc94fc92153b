"""Flow in pipes: friction, losses, surge, vessels and peak demand."""
