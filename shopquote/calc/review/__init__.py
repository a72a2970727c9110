"""Review of finished jobs: variances, margins, and what the time standards should have been."""
