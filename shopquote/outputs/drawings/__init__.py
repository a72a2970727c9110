"""Pictures of parts."""
