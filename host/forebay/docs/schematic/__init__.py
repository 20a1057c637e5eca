"""Circuits as drawings: `layout` says where a part stands on its sheet, `symbols` how it looks."""
