"""What the user brings: from job folders to validated tables and maps, with the place each row came from."""

from auditor.record.raw import EvidenceFile
from auditor.record.read import Record, read_jobs, record_from_rows
from auditor.record.schema import record_schema
from auditor.record.site_map import Elevation, SiteMap

__all__ = ["Elevation", "EvidenceFile", "Record", "SiteMap", "read_jobs", "record_from_rows", "record_schema"]
