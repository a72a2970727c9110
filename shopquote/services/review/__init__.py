"""Closing jobs and reviewing them: costs against quotes, and what standards can learn."""
