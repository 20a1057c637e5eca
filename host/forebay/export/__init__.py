"""What is on the shelf, written for other programs: CSV and Parquet."""

from forebay.export.write import FORMATS, Exported, ExportError, Wish, export

__all__ = ["FORMATS", "ExportError", "Exported", "Wish", "export"]
