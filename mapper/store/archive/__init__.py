"""The open archive of a job: JSON, well-known text, CSV and pictures, readable without us."""
