"""What the user brings: from job folders to validated tables, with the place each row came from."""

from auditor.record.read import EvidenceFile, Record, read_jobs, record_from_rows
from auditor.record.schema import record_schema

__all__ = ["EvidenceFile", "Record", "read_jobs", "record_from_rows", "record_schema"]
