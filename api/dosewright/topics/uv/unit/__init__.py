"""The UV unit: its chamber, flow model and rated points."""
